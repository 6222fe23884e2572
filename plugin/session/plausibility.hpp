// SPDX-License-Identifier: GPL-3.0-or-later
// plausibility.hpp: whether a capture's channels can be what they are said to be.
//
// In    what each channel has read (Readings, kept by the chain), and the runs.
// Out   a refusal with the likeliest mend where readings are physically impossible; doubts where
//       they are beyond what such systems reach, stand still to the last digit, or look like an
//       absolute sensor or one whose vacuum is positive; remarks about spikes.
// How   limits and what counts as lasting: decoders/stream/readings. A mend is offered where it would
//       bring all readings into the usual span.
#pragma once
#include <array>
#include <optional>
#include <string>
#include <vector>

#include "plugin/session/chain_driver.hpp"

namespace airlatch {

// Roles on whose readings no verdict may rest.
using Distrusted = std::array<bool, kRoles>;
bool any(const Distrusted& distrusted);

// What a channel cannot be, and what to do.
struct Implausible {
  std::string channel, what, mend;
};
// The first channel with lasting impossible readings; `ended`: no more will come.
std::optional<Implausible> impossible(const RigMatch& match, const ChainDriver& driver, bool ended);

class Plausibility {
 public:
  // Of the capture, as they come.
  void take(const Event& event);
  // At the capture's end. What is impossible and was not refused is a doubt.
  void finish(const RigMatch& match, const ChainDriver& driver);
  [[nodiscard]] const std::vector<std::string>& doubts() const { return doubts_; }  // told first
  [[nodiscard]] const std::vector<std::string>& remarks() const { return remarks_; }
  [[nodiscard]] const Distrusted& distrusted() const { return distrusted_; }

 private:
  struct EndPressure {
    int runs = 0;
    double least_kpa = 0, most_kpa = 0;
  };
  void doubt(Role role, const std::string& what);
  void look_at(const ChainChannel& channel, const Readings& readings, bool others_move,
               bool as_written);
  [[nodiscard]] bool both_contacts(bool blow) const;

  std::array<EndPressure, EnumNames<Contact>::kAll.size()> ends_ = {};
  std::vector<std::string> doubts_, remarks_;
  Distrusted distrusted_ = {};
};

}  // namespace airlatch
