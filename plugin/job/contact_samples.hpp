// SPDX-License-Identifier: GPL-3.0-or-later
// contact_samples.hpp: the samples from which three unknown contacts are found, collected during
// decoding.
//
// In    raw blocks of a capture, counted as its match counts them.
// Out   the contacts' voltages, the current and the pressure on one even grid.
// How   a mean over each step of the grid: fine enough for clips that a hand moves.
// Cost  a Trace a channel, whatever the capture's length.
#pragma once
#include <array>
#include <optional>
#include <string>
#include <vector>

#include "decoders/stream/rig_scale.hpp"
#include "decoders/stream/trace.hpp"
#include "plugin/session/rig_match.hpp"
#include "plugin/verdict/contacts.hpp"

namespace airlatch {

class ContactSampler {
 public:
  static constexpr double kStep_s = 0.05;
  void begin(const RigMatch& match);
  void take(const SampleBlock& raw);
  // Empty where one of the four channels that are needed is missing; without the pressure,
  // directions stay open.
  [[nodiscard]] std::vector<ContactSample> samples() const;
  // The contacts' channels.
  [[nodiscard]] const std::array<std::string, 3>& names() const { return names_; }

 private:
  static constexpr std::array kRolesOfUse = {Role::FEED_A_VOLTAGE, Role::FEED_B_VOLTAGE,
                                             Role::RETURN_VOLTAGE, Role::MOTOR_CURRENT,
                                             Role::LINE_PRESSURE};
  struct Channel {
    std::size_t use = 0;  // its place in kRolesOfUse
    RigScale scale;
  };
  std::vector<std::optional<Channel>> channels_;  // of the match; nothing: of no use
  std::array<Trace, kRolesOfUse.size()> traces_ = {Trace(0, kStep_s), Trace(0, kStep_s),
                                                   Trace(0, kStep_s), Trace(0, kStep_s),
                                                   Trace(0, kStep_s)};
  std::array<std::string, 3> names_ = {"contact 1", "contact 2", "contact 3"};
  std::optional<std::int64_t> t0_ns_ = {};
};

}  // namespace airlatch
