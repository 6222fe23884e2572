// SPDX-License-Identifier: GPL-3.0-or-later
// rig_scale.hpp: raw readings to the role's unit.
//
// In    raw blocks of one channel and its rig entry.
// Out   quantity = scale * raw + offset, then sign, then zero.
// How   the zero (auto_zero) is the mean of the first kZero_s, when nothing has been switched on
//       yet; the motor current's zero is tracked by its decoder instead, since clamps drift.
#pragma once
#include <cstdint>
#include <vector>

#include "decoders/setup.hpp"
#include "decoders/stream/sample_block.hpp"

namespace airlatch {

class RigScale {
 public:
  static constexpr double kZero_s = 0.2;
  explicit RigScale(const Rig::Channel& entry);
  // Scales a slice's block; the result borrows this object's memory until the next call.
  SampleBlock apply(const SampleBlock& raw, std::int64_t t0_ns);
  // The zero, and of how many readings it is the mean; 0: none is learnt.
  [[nodiscard]] double zero() const { return zero_; }
  [[nodiscard]] std::int64_t zero_readings() const { return zero_n_; }

 private:
  void learn_zero(const SampleBlock& raw, std::int64_t t0_ns);
  Role role_;
  double scale_, offset_, zero_ = 0;
  bool auto_zero_;
  std::int64_t zero_n_ = 0;
  std::vector<float> values_;
};

}  // namespace airlatch
