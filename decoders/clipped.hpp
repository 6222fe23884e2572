// SPDX-License-Identifier: GPL-3.0-or-later
// clipped.hpp: samples at a sensor's range limit (CLIPPED).
//
// In    scaled blocks of roles whose rig entry has range_min or range_max; overloads (infinity) of
//       any role.
// Out   CLIPPED at the first sample at the limit, `duration` s to the first sample inside again.
// How   comparison with the range, reduced by CaptureContext::kLimitMargin of its span to allow for
//       the converter's last step. Noise at the limit is one event: it ends after kQuiet_s inside
//       the range.
// Cost  O(1) a channel; two comparisons a sample.
#pragma once
#include <array>

#include "decoders/decoder.hpp"

namespace airlatch {

class Clipped final : public BlockDecoder {
 public:
  static constexpr double kQuiet_s = 0.01;
  using BlockDecoder::BlockDecoder;
  void on_block(const SampleBlock& scaled) override;
  void finish(double end_s) override;

 private:
  struct Channel {
    bool clipped = false;
    double since_s = 0, until_s = 0;  // until: the first sample inside after the last one outside
    bool inside = false;
    double step_s = 0;
  };
  void announce(Role role, const Channel& channel);
  std::array<Channel, kRoles> channels_ = {};
};

}  // namespace airlatch
