// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/even_clock.hpp"

#include <algorithm>
#include <cmath>

namespace airlatch {

std::optional<SampleClock> even_clock(const std::vector<std::int64_t>& t, std::int64_t resolution) {
  if (t.size() < 3) return std::nullopt;
  const auto n = static_cast<std::int64_t>(t.size() - 1);
  const std::int64_t tolerance = resolution / 2 + 1;
  const auto fits = [&](const SampleClock& clock) {
    for (std::int64_t k = 0; k <= n; ++k)
      if (std::abs(since_ns(clock.time_ns(k), t[static_cast<std::size_t>(k)])) > tolerance)
        return false;
    return true;
  };
  const double span = static_cast<double>(t.back() - t.front());
  const double least = static_cast<double>(n) * 1e9 / (span + static_cast<double>(2 * tolerance));
  const double most =
      static_cast<double>(n) * 1e9 / std::max(1.0, span - static_cast<double>(2 * tolerance));
  for (std::int64_t round = 1'000'000'000; round >= 1; round /= 10) {
    const auto middle = static_cast<std::int64_t>(
        std::llround(static_cast<double>(n) * 1e9 / span / static_cast<double>(round)));
    const std::int64_t rate = middle * round;
    if (rate < 1 || static_cast<double>(rate) < least || static_cast<double>(rate) > most) continue;
    const auto clock = SampleClock::of_rate(rate, 1, t.front());
    if (fits(clock)) return clock;
  }
  const std::int64_t whole = (t.back() - t.front() + n / 2) / n;
  // A period that is a whole number of printed steps, then any.
  for (const std::int64_t period : {(whole + resolution / 2) / resolution * resolution, whole}) {
    if (period <= 0) continue;
    const SampleClock clock{t.front(), period, 1};
    if (fits(clock)) return clock;
  }
  return std::nullopt;
}

}  // namespace airlatch
