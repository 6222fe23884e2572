// SPDX-License-Identifier: GPL-3.0-or-later
// envelope.hpp: a channel of any length as at most kMost lowest and highest values, for plots.
//
// How   equal time bins with the least and the most in each; when there are too many, neighbours
//       are merged and the bins become twice as wide. No spike is lost; a day draws as fast as ten
//       seconds.
// Cost  kMost bins; one SIMD pass over the samples that share one.
#pragma once
#include <cstdint>
#include <vector>

#include "decoders/stream/sample_block.hpp"

namespace airlatch {

class Envelope {
 public:
  static constexpr std::size_t kMost = 9600;
  struct Bin {
    double time_s = 0, least = 0, most = 0;  // time_s: the bin's first sample
  };
  // `t0_ns`: the capture's first sample. Scaled values; missing ones are passed over.
  void add(const SampleBlock& scaled, std::int64_t t0_ns);
  [[nodiscard]] const std::vector<Bin>& bins() const { return bins_; }

 private:
  [[nodiscard]] std::int64_t bin_of(double t_s) const;
  void put(const Bin& bin);
  double width_s_ = 0;
  std::vector<Bin> bins_;
};

}  // namespace airlatch
