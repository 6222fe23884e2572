// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/line_watch.hpp"

#include <algorithm>
#include <cmath>

#include "decoders/method/uncertainty.hpp"

namespace airlatch {
namespace {
constexpr double kPause = 1.5, kLongPause = 64;  // steps without a reading

// Standard deviation of A - 2 B + C, means over a_s that adjoin.
double u_of_second_difference(const NoiseModel& noise, double a_s) {
  const auto cov = [&](double lag) { return noise.covariance(0, a_s, lag * a_s, a_s); };
  return std::sqrt(std::max(0.0, 6 * cov(0) - 8 * cov(1) + 2 * cov(2)));
}
}  // namespace

void LineWatch::learn(const NoiseModel& noise) {
  for (std::size_t k = 0; k < kLengths.size(); ++k) {
    const double u = u_of_second_difference(noise, static_cast<double>(kLengths[k]) * step_s_);
    least_kpa_[k] = kSigmas * combine(u, std::sqrt(noise.hidden));
  }
}

void LineWatch::put(double time_s, double mean_kpa) {
  steps_[count_ % kKept] = {time_s, sum_};
  ++count_;
  sum_ += mean_kpa;
  last_kpa_ = mean_kpa;
}

std::optional<LineWatch::Movement> LineWatch::add(double time_s, double mean_kpa) {
  if (count_ > 0) {
    const double pause = (time_s - back(1).time_s) / step_s_;
    // Through a short pause as if straight; what was before a long one says nothing.
    if (pause > kLongPause) first_ = count_;
    const double from_s = time_s - pause * step_s_, last_kpa = last_kpa_;
    for (double k = 1; count_ > first_ && pause > kPause && k < pause - 0.5; ++k)
      put(from_s + k * step_s_, last_kpa + (mean_kpa - last_kpa) * k / pause);
  }
  put(time_s, mean_kpa);
  for (std::size_t k = 0; k < kLengths.size(); ++k) {
    const std::size_t n = kLengths[k];
    if (count_ - first_ < 3 * n) break;
    const double per = 1 / static_cast<double>(n);
    const double c = (sum_ - back(n).sum) * per, b = (back(n).sum - back(2 * n).sum) * per,
                 a = (back(2 * n).sum - back(3 * n).sum) * per;
    const double before = b - a, now = c - b;
    const double least = least_kpa_[k] + kLeastShare * std::abs(b);
    const double onwards = before < 0 ? -now : now;
    const bool away = now * c > 0, had_gone = before * b > 0 && std::abs(before) > least;
    const bool moved = onwards > std::abs(before) + least || onwards < -least ||
                       (pumped_ && away && std::abs(now) > least);
    if (!moved) continue;
    const Movement movement{back(n).time_s, away || had_gone};
    first_ = count_ - n;
    return movement;
  }
  return std::nullopt;
}

}  // namespace airlatch
