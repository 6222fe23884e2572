// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/direction.hpp"

#include <algorithm>
#include <cmath>

namespace airlatch {

Direction pressure_direction(const CaptureContext& context, double from_s, double to_s) {
  const Track& line = context.track(Role::LINE_PRESSURE);
  if (line.empty() || from_s >= to_s) return Direction::UNKNOWN;
  double p0 = 0, p1 = 0, u = 0;
  if (line.slow()) {
    p0 = line.value(std::max(line.first_at_or_after(from_s) - 1, line.begin()));
    p1 = line.value(std::max(line.first_at_or_after(to_s) - 1, line.begin()));
    u = 1.5 * line.noise();
  } else {
    const double span_s = std::min(0.05, (to_s - from_s) / 2);
    const auto before = line.mean(from_s - 0.1, from_s), after = line.mean(to_s - span_s, to_s);
    if (!after) return Direction::UNKNOWN;
    p0 = before ? before->value : line.at_time(from_s);
    p1 = after->value;
    u = combine(before ? before->u() : line.noise(),
                line.noise() / std::sqrt(static_cast<double>(after->n)));
  }
  if (std::abs(p1 - p0) < std::max(kLeastMove_kpa, 5 * u)) return Direction::UNKNOWN;
  return p1 > p0 ? Direction::PRESSURE : Direction::VACUUM;
}

}  // namespace airlatch
