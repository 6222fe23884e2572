// SPDX-License-Identifier: GPL-3.0-or-later
// chain_driver.hpp: the one way samples of a source reach a chain.
//
// In    blocks of any of the source's channels, counted as the source counts them, each channel in
//       rising time. Channels without a role are counted and ignored.
// Out   events, through `on_event`, as they become decidable.
// How   a block whose clock goes on where the channel's last one ended stays on that clock: time
//       never drifts, and any cut of the samples gives the same bytes.
// Cost  O(1) a block beside the chain's own.
#pragma once
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "decoders/chain.hpp"
#include "plugin/session/rig_match.hpp"

namespace airlatch {

class ChainDriver {
 public:
  struct Channel {
    std::int64_t samples = 0;
    double rate_hz = 0;          // of its last block; 0: own times
    std::int64_t newest_ns = 0;  // of its last sample, once there is one
  };

  // `channels`: how many the source has. `joins_ns`: how far a block may begin from where the last
  // one ended and still go on on its clock (stamps of live hosts are rounded; files are exact).
  ChainDriver(const RigMatch& match, std::size_t channels, const ChainSettings& settings,
              const std::function<void(const Event&)>& on_event, std::int64_t joins_ns = 0);

  // REQUIRES: a channel of the source.
  void push(const SampleBlock& raw);
  void end_channel(std::size_t channel);
  void advance(std::int64_t until_ns) { chain_.advance(until_ns); }
  void finish() { chain_.finish(); }

  // The chain's channel for one of the source's; nothing where it has no role.
  [[nodiscard]] std::optional<std::size_t> place(std::size_t channel) const;
  [[nodiscard]] const Channel& channel(std::size_t channel) const { return lanes_[channel].about; }
  // Of the chain's channel, in its role's unit.
  [[nodiscard]] const Readings& readings(std::size_t place) const { return chain_.readings(place); }
  // Samples whose time was not after the one before, or cannot be counted.
  [[nodiscard]] std::int64_t dropped() const { return chain_.dropped() + uncountable_; }
  // Of the earliest and latest sample with a role; nothing before there is one.
  [[nodiscard]] std::optional<std::int64_t> first_ns() const { return first_ns_; }
  [[nodiscard]] double duration_s() const;

 private:
  struct Lane {
    std::optional<std::size_t> place = {};
    SampleClock clock = {};
    std::int64_t next = 0;  // index of the value that would follow on `clock`; 0: none was there
    Channel about = {};
  };
  Chain chain_;
  std::int64_t joins_ns_;
  std::vector<Lane> lanes_;
  std::int64_t uncountable_ = 0;
  std::optional<std::int64_t> first_ns_ = {}, last_ns_ = {};
};

}  // namespace airlatch
