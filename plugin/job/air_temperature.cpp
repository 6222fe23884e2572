// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/job/air_temperature.hpp"

#include <cmath>

namespace airlatch {

void AirTemperature::begin(const RigMatch& match) {
  for (std::size_t c = 0; c < match.channels.size(); ++c) {
    if (match.channels[c].rig.role != Role::AIR_TEMPERATURE) continue;
    channel_ = c;
    scale_.emplace(match.channels[c].rig);
  }
}

void AirTemperature::take(const SampleBlock& raw) {
  if (!scale_ || raw.channel != channel_) return;
  for (const float value : scale_->apply(raw, raw.time_ns(0)).values) {
    if (!std::isfinite(value)) continue;
    sum_c_ += static_cast<double>(value);
    ++n_;
  }
}

std::optional<double> AirTemperature::mean_c() const {
  if (n_ == 0) return std::nullopt;
  return sum_c_ / n_;
}

}  // namespace airlatch
