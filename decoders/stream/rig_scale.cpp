// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/stream/rig_scale.hpp"

#include <cmath>

namespace airlatch {

RigScale::RigScale(const Rig::Channel& entry)
    : role_(entry.role),
      scale_((entry.invert ? -1 : 1) * (entry.scale.has_value() ? *entry.scale : 1)),
      offset_((entry.invert ? -1 : 1) * entry.offset),
      auto_zero_(entry.auto_zero && entry.role != Role::MOTOR_CURRENT) {}

// A block may begin within the first kZero_s and go on beyond.
void RigScale::learn_zero(const SampleBlock& raw, std::int64_t t0_ns) {
  for (std::size_t i = 0; i < raw.values.size(); ++i) {
    if (static_cast<double>(raw.time_ns(i) - t0_ns) * 1e-9 >= kZero_s) return;
    const double scaled = scale_ * static_cast<double>(raw.values[i]) + offset_;
    if (!std::isfinite(scaled)) continue;
    ++zero_n_;
    zero_ += (scaled - zero_) / static_cast<double>(zero_n_);
  }
}

SampleBlock RigScale::apply(const SampleBlock& raw, std::int64_t t0_ns) {
  if (auto_zero_) learn_zero(raw, t0_ns);
  SampleBlock block = raw;
  block.role = role_;
  if (scale_ != 1 || offset_ != 0 || zero_ != 0) {
    values_.resize(raw.values.size());
    const auto shift = offset_ - zero_;
    for (std::size_t i = 0; i < values_.size(); ++i)
      values_[i] = static_cast<float>(scale_ * static_cast<double>(raw.values[i]) + shift);
    block.values = values_;
  }
  return block;
}

}  // namespace airlatch
