// SPDX-License-Identifier: GPL-3.0-or-later
// gap.hpp: missing samples (GAP).
//
// In    scaled blocks of every role.
// Out   GAP at the first missing sample with `duration` s to the next sample present; the note
//       names the channels. Gaps of several channels that share both ends are one event.
// How   evenly sampled: a missing value or a jump of the clock. Own times: a pause of more than
//       kPauseFactor of the mean spacing so far.
// Cost  O(1) a channel; one comparison a sample.
#pragma once
#include <array>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "decoders/decoder.hpp"

namespace airlatch {

class Gap final : public BlockDecoder {
 public:
  static constexpr double kPauseFactor = 3.5;
  using BlockDecoder::BlockDecoder;
  void on_block(const SampleBlock& scaled) override;
  void on_tick(double now_s) override;
  void finish(double end_s) override;

 private:
  struct Channel {
    bool seen = false, missing = false;
    double next_s = 0;     // where the next sample is due
    double since_s = 0;    // first missing sample
    double spacing_s = 0;  // own times: mean so far
    std::int64_t spacings = 0;
  };
  struct Closed {
    double since_s, duration_s, u_s;
    std::string channels;
  };
  void close(Role role, Channel& channel, double until_s);
  std::array<Channel, kRoles> channels_ = {};
  std::vector<Closed> closed_;
  std::map<std::pair<double, double>, std::size_t> places_;  // in it, by both ends
};

}  // namespace airlatch
