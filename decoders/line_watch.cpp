// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/line_watch.hpp"

#include <algorithm>
#include <cmath>

#include "decoders/method/uncertainty.hpp"

namespace airlatch {
namespace {
constexpr double kPause = 3;  // steps without a reading: what was before says nothing

// Standard deviation of A - 2 B + C, means over a_s that adjoin.
double u_of_second_difference(const NoiseModel& noise, double a_s) {
  const auto cov = [&](double lag) { return noise.covariance(0, a_s, lag * a_s, a_s); };
  return std::sqrt(std::max(0.0, 6 * cov(0) - 8 * cov(1) + 2 * cov(2)));
}
}  // namespace

LineWatch::LineWatch(double step_s, const NoiseModel& noise, bool pumped)
    : step_s_(step_s), pumped_(pumped) {
  for (std::size_t k = 0; k < kLengths.size(); ++k) {
    const double u = u_of_second_difference(noise, static_cast<double>(kLengths[k]) * step_s);
    least_kpa_[k] = kSigmas * combine(u, std::sqrt(noise.hidden));
  }
}

std::optional<LineWatch::Movement> LineWatch::add(double time_s, double mean_kpa) {
  if (count_ > 0 && time_s - back(1).time_s > kPause * step_s_) count_ = 0;
  steps_[count_ % kKept] = {time_s, sum_};
  ++count_;
  sum_ += mean_kpa;
  for (std::size_t k = 0; k < kLengths.size(); ++k) {
    const std::size_t n = kLengths[k];
    if (count_ < 3 * n) break;
    const double per = 1 / static_cast<double>(n);
    const double c = (sum_ - back(n).sum) * per, b = (back(n).sum - back(2 * n).sum) * per,
                 a = (back(2 * n).sum - back(3 * n).sum) * per;
    const double before = b - a, now = c - b;
    const double least = least_kpa_[k] + kLeastShare * std::abs(b);
    const double onwards = before < 0 ? -now : now;
    const bool away = now * c > 0;
    const bool moved = onwards > std::abs(before) + least || onwards < -least ||
                       (pumped_ && away && std::abs(now) > least);
    if (moved) return Movement{back(n).time_s, away};
  }
  return std::nullopt;
}

}  // namespace airlatch
