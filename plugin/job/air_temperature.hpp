// SPDX-License-Identifier: GPL-3.0-or-later
// air_temperature.hpp: the temperature near the line, collected during decoding.
//
// In    raw blocks of a capture, counted as its match counts them.
// Out   the mean of AIR_TEMPERATURE in °C, where there is such a channel.
#pragma once
#include <optional>

#include "decoders/stream/rig_scale.hpp"
#include "plugin/session/rig_match.hpp"

namespace airlatch {

class AirTemperature {
 public:
  void begin(const RigMatch& match);
  void take(const SampleBlock& raw);
  [[nodiscard]] std::optional<double> mean_c() const;

 private:
  std::size_t channel_ = 0;
  std::optional<RigScale> scale_;  // of that channel; nothing: there is none
  double sum_c_ = 0, n_ = 0;
};

}  // namespace airlatch
