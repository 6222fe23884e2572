// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/measure/run_measure.hpp"

#include <algorithm>
#include <cmath>

#include "decoders/method/elementary.hpp"

namespace airlatch {
namespace {
constexpr double kShortestZero_s =
    0.02;                              // of a run that began before the capture: no zero was seen
constexpr double kZeroGuard_s = 0.03;  // before a start, as the motor current's decoder leaves it
constexpr double kExplained = 3;       // standard deviations between the zeros: noise, perhaps
constexpr double kDrift = 0.25;        // of a drift beyond, what no line between the zeros takes

struct Window {
  double from_s = 0, long_s = 0;
};

double covariance(const NoiseModel& noise, const Window& a, const Window& b) {
  return noise.covariance(a.from_s, a.long_s, b.from_s, b.long_s);
}

// Of (a - b) with (c - d).
double covariance(const NoiseModel& noise, const Window& a, const Window& b, const Window& c,
                  const Window& d) {
  return covariance(noise, a, c) - covariance(noise, a, d) - covariance(noise, b, c) +
         covariance(noise, b, d);
}
}  // namespace

Uncertain mean_current(const CaptureContext& context, const RunFacts& run, double mean_reading_a,
                       double from_s, double to_s) {
  const Track& current = context.track(Role::MOTOR_CURRENT);
  const NoiseModel& noise = context.noise_of(Role::MOTOR_CURRENT);
  const Window mean{from_s, std::max(to_s - from_s, current.period_s())};
  const double zero_s = std::max(run.zero_span_s, kShortestZero_s);
  const Window before{run.start_s - kZeroGuard_s - zero_s, zero_s};
  const double n = std::max(1.0, mean.long_s / current.period_s());
  const double white2 = 0.5 * noise.h0 / current.period_s();
  const double ripple2 = std::max(0.0, elementary::square(current.noise()) - white2) / n;
  double variance = covariance(noise, mean, before, mean, before), zero_a = run.zero_a, drift_a = 0;
  if (run.after_to_s > run.after_from_s) {
    const Window after{run.after_from_s, run.after_to_s - run.after_from_s};
    const double between = covariance(noise, before, after, before, after);
    const double share = std::clamp(
        between > 0 ? covariance(noise, mean, after, before, after) / between : 0.5, 0.0, 1.0);
    variance = covariance(noise, mean, after, mean, after) -
               2 * share * covariance(noise, mean, after, before, after) + share * share * between;
    zero_a = share * run.zero_a + (1 - share) * run.after_a;
    const double apart_a = std::abs(run.after_a - run.zero_a),
                 sd_a = std::sqrt(std::max(between, 0.0));
    if (sd_a > 0) variance *= elementary::square(std::clamp(apart_a / sd_a, 1.0, kExplained));
    drift_a = kDrift * std::max(0.0, apart_a - kExplained * sd_a);
  }
  return {run.sign * (mean_reading_a - zero_a),
          combine(std::sqrt(std::max(0.0, variance) + 2 * noise.hidden + ripple2), drift_a)};
}

}  // namespace airlatch
