// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/measure/edge_level.hpp"

#include <algorithm>
#include <cmath>

namespace airlatch {

std::optional<Uncertain> level_after(const CaptureContext& context, Role role, Uncertain edge_s,
                                     double until_s, double from_s, double to_s) {
  const Track& track = context.track(role);
  const double period_s = track.period_s();
  if (track.slow()) {
    // The reading that holds the edge is part of both levels.
    const std::int64_t k = track.first_at_or_after(edge_s.value) + 1;
    if (k >= track.end() || track.time_s(k) > until_s) return std::nullopt;
    return Uncertain{track.value(k),
                     combine(track.noise(), context.u_instrument(role, track.value(k)))};
  }
  const double end_s = edge_s.value + to_s;
  if (until_s < end_s - period_s) return std::nullopt;
  const double begin_s = edge_s.value + from_s, middle_s = (begin_s + end_s) / 2;
  const auto level = track.mean(begin_s, end_s);
  const auto early = track.mean(begin_s, middle_s), late = track.mean(middle_s, end_s);
  if (!level || !early || !late) return std::nullopt;
  const std::int64_t from = track.first_at_or_after(begin_s), to = track.first_at_or_after(end_s);
  const double slope = 2 * (late->value - early->value) / (to_s - from_s);
  const double off_middle_s = track.mean_time_s(from, to) - middle_s;
  NoiseModel noise = context.noise_of(role);
  noise.hum = {};  // it stands at the contact and counts
  const double u_place_s = combine(edge_s.u, u_of_width(period_s));
  const double value = level->value - slope * off_middle_s;
  return Uncertain{value, combine(std::sqrt(noise.variance_of_mean(to_s - from_s)),
                                  slope * u_place_s, context.u_instrument(role, value))};
}

}  // namespace airlatch
