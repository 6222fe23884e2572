// SPDX-License-Identifier: GPL-3.0-or-later
// gap.hpp: missing samples (GAP).
//
// In    scaled blocks of every role.
// Out   GAP at the first missing sample with `duration` s to the next sample present; the note
//       names the channels. Gaps of several channels that share both ends are one event.
// How   evenly sampled: a missing value or a jump of the clock. Where every reading has its own time,
//       or most values of an even clock are missing because its rows belong to other channels: a
//       pause of more than kPauseFactor of the channel's own usual interval, learnt as it goes.
// Cost  O(1) a channel; one comparison a sample where any is missing.
#pragma once
#include <array>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "decoders/decoder.hpp"

namespace airlatch {

class Gap final : public BlockDecoder {
 public:
  static constexpr double kPauseFactor = 3;  // the contract
  using BlockDecoder::BlockDecoder;
  void on_block(const SampleBlock& scaled) override;
  void on_tick(double now_s) override;
  void finish(double end_s) override;

 private:
  struct Pause {
    double since_s = 0, until_s = 0;  // the last reading before it, the first after it
    bool leads = false;               // none before it: since_s is the capture's first empty value
  };
  struct Channel {
    bool seen = false, own_times = false;
    std::optional<double> leading_s = {};  // of the first empty value, before any reading
    double last_s = 0;                     // newest reading
    double empty_s = 0;                    // newest empty value
    double period_s = 0;                   // of its even clock
    double usual_s = 0;                    // interval between readings
    std::int64_t intervals = 0;            // that were learnt from
    std::vector<Pause> early = {};         // before the usual interval is known
  };
  struct Closed {
    double since_s, duration_s, u_s;
    std::string channels;
  };
  static constexpr std::int64_t kFewest = 3;  // intervals that tell the usual one
  void reading(Role role, Channel& channel, double t_s);
  void judge(Role role, const Channel& channel, const Pause& pause);
  std::array<Channel, kRoles> channels_ = {};
  std::vector<Closed> closed_;
  std::map<std::pair<double, double>, std::size_t> places_;  // in it, by both ends
};

}  // namespace airlatch
