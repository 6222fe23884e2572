// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/method/decay_fit.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "decoders/method/decay_models.hpp"
#include "decoders/method/elementary.hpp"

namespace airlatch {
namespace {

using elementary::square;
constexpr double kLeastLength_s = 0.3;
constexpr double kShareOfTime = 0.1;         // a point's width over the time since the start
constexpr double kShareOfLength = 1.0 / 30;  // and over the whole
constexpr double kLaw = 0.01;                // of the slope, for the law
constexpr double kLawShape = 0.003;          // and what of it may differ along one decay
constexpr double kNeverConstant =
    0.95;  // weight of the hole beyond which no time constant is given
// A third relaxation, slow and small: its standard deviation at first, and its time, longer in a large
// vessel that is watched for long.
constexpr double kSlow_kpa = 0.03, kSlow_s = 5, kSlowShare = 0.2;
constexpr double kMisfit = 1.3;  // chi squared over its degrees of freedom that chance seldom gives
constexpr double kAround = 0.1;  // of the length, to either side
constexpr int kInstants = 24;    // that may be the window's start
// Readings that never move are still no more exact than the float that holds them.
constexpr double kLeastNoise_kpa = 1e-5;

// Neighbours averaged: short ones at first, where the warmth leaves, none long beside the whole.
std::vector<DecayPoint> grouped(std::span<const DecayPoint> points) {
  const double widest_s = kShareOfLength * (points.back().time_s - points.front().time_s);
  std::vector<DecayPoint> out;
  double until_s = -1;
  for (const DecayPoint& point : points) {
    if (out.empty() || point.time_s >= until_s) {
      until_s = point.time_s + std::min(widest_s, kShareOfTime * point.time_s);
      out.push_back(point);
      continue;
    }
    DecayPoint& sum = out.back();
    const double n = sum.n + point.n;
    sum.time_s += (point.time_s - sum.time_s) * point.n / n;
    sum.pressure_kpa += (point.pressure_kpa - sum.pressure_kpa) * point.n / n;
    sum.n = n;
  }
  return out;
}

// Standard deviation of one reading from second differences: a smooth curve does not disturb them.
double rough_noise(std::span<const DecayPoint> points) {
  double sum = 0, n = 0;
  for (std::size_t i = 1; i + 1 < points.size(); ++i) {
    const DecayPoint &a = points[i - 1], &b = points[i], &c = points[i + 1];
    const double part = (b.time_s - a.time_s) / (c.time_s - a.time_s);
    const double d = b.pressure_kpa - (1 - part) * a.pressure_kpa - part * c.pressure_kpa;
    sum += d * d / (1 / b.n + (1 - part) * (1 - part) / a.n + part * part / c.n);
    n += 1;
  }
  return n > 0 ? std::sqrt(sum / n) : 0;
}

// Covariance of a smooth random course by its lag (Matern 3/2), from its size and its slope's.
double smooth_course(double lag_s, double size, double slope) {
  const double x = std::abs(lag_s) * slope / size;
  return size * size * (1 + x) * elementary::exp(-x);
}

// The same of what it has gone since the time 0.
double course_since_start(double a_s, double b_s, double size, double slope) {
  if (!(size > 0) || !(slope > 0)) return 0;
  return smooth_course(a_s - b_s, size, slope) - smooth_course(a_s, size, slope) -
         smooth_course(b_s, size, slope) + size * size;
}

Eigen::MatrixXd covariance_of(const std::vector<DecayPoint>& points, const NoiseModel& noise,
                              const DecaySettings& settings, double period_s) {
  const auto n = static_cast<Eigen::Index>(points.size());
  NoiseModel steady = noise;
  steady.hum = {};
  const DecayPoint &middle = points[points.size() / 2], &end = points.back();
  const double law_kpa_s =
      kLawShape * std::abs(end.pressure_kpa - middle.pressure_kpa) / (end.time_s - middle.time_s);
  const double length_s = end.time_s - points.front().time_s;
  const double slow_kpa = kSlow_kpa * relaxation_scale(points.front().pressure_kpa);
  const double slow_s = std::max(kSlow_s, kSlowShare * length_s);
  Eigen::MatrixXd c(n, n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const DecayPoint& a = points[static_cast<std::size_t>(i)];
    const double a_s = a.n * period_s;
    NoiseModel hum = noise;
    hum.h0 = hum.h1 = 0;
    c(i, i) = hum.covariance(0, a_s, 0, a_s) + square(kLeastNoise_kpa);
    for (Eigen::Index k = 0; k <= i; ++k) {
      const DecayPoint& b = points[static_cast<std::size_t>(k)];
      const double b_s = b.n * period_s, lag_s = a.time_s - b.time_s;
      double here = noise.h1 > 0
                        ? noise.h1 * noise.flicker_covariance(lag_s + 0.5 * (b_s - a_s), b_s, a_s)
                        : 0;
      if (i == k) here += 0.5 * noise.h0 / a_s;
      here += course_since_start(a.time_s, b.time_s, settings.drift_kpa, settings.drift_kpa_s);
      here += course_since_start(a.time_s, b.time_s, law_kpa_s * length_s / 3, law_kpa_s);
      here += square(slow_kpa) * elementary::exp(-(a.time_s + b.time_s) / slow_s);
      if (settings.hidden_kpa > 0)
        here += square(settings.hidden_kpa) *
                elementary::exp(-std::abs(lag_s) / std::max(settings.hidden_s, 1e-6));
      c(i, k) = c(k, i) = i == k ? c(i, i) + here : here;
    }
  }
  return c;
}

// The fitted laws with their weights, and what they say together.
class Mixture {
 public:
  Mixture(std::vector<FittedDecay> laws, double widening)
      : laws_(std::move(laws)), widening_(widening) {
    double least = laws_.front().squares;
    for (const FittedDecay& law : laws_) least = std::min(least, law.squares);
    double total = 0;
    for (const FittedDecay& law : laws_) {
      weights_.push_back(elementary::exp(-0.5 * (law.squares - least) / widening));
      total += weights_.back();
    }
    for (double& weight : weights_) weight /= total;
  }
  // Any quantity of a law: mean, with each law's own and the between-law variance.
  template <typename Quantity>
  [[nodiscard]] Uncertain operator()(Quantity&& quantity) const {
    std::vector<Uncertain> each;
    Uncertain all;
    for (std::size_t k = 0; k < laws_.size(); ++k) {
      each.push_back(by_parameters(laws_[k], quantity));
      all.value += weights_[k] * each.back().value;
    }
    double variance = 0;
    for (std::size_t k = 0; k < laws_.size(); ++k)
      variance += weights_[k] * (square(each[k].u) + square(each[k].value - all.value));
    all.u = std::sqrt(variance);
    return all;
  }
  // How far the laws lie apart, whatever their weights: standard deviation.
  template <typename Quantity>
  [[nodiscard]] double spread(Quantity&& quantity) const {
    double sum = 0, squares = 0;
    for (const FittedDecay& law : laws_) {
      const double value = quantity(law);
      sum += value;
      squares += value * value;
    }
    const auto n = static_cast<double>(laws_.size());
    return std::sqrt(std::max(0.0, squares / n - square(sum / n)));
  }
  [[nodiscard]] double widening() const { return widening_; }
  [[nodiscard]] double hole_weight() const {
    double sum = 0;
    for (std::size_t k = 0; k < laws_.size(); ++k) sum += laws_[k].law.is_hole() ? weights_[k] : 0;
    return sum;
  }

 private:
  template <typename Quantity>
  [[nodiscard]] Uncertain by_parameters(const FittedDecay& law, Quantity&& quantity) const {
    DecayParameters by;
    FittedDecay moved = law;
    for (Eigen::Index k = 0; k < kDecayParameters; ++k) {
      const double step = 1e-4 * std::sqrt(std::max(law.covariance(k, k), 1e-20));
      moved.x[k] = law.x[k] + step;
      const double up = quantity(moved);
      moved.x[k] = law.x[k] - step;
      by[k] = (up - quantity(moved)) / (2 * step);
      moved.x[k] = law.x[k];
    }
    return {quantity(law), std::sqrt(std::max(0.0, widening_ * by.dot(law.covariance * by)))};
  }
  std::vector<FittedDecay> laws_;
  std::vector<double> weights_;
  double widening_;
};

// The instant whose slope is known best, of those at which the warmth that still leaves moves the line
// by less than the slope's uncertainty; else the last.
double window_start_s(const Mixture& mixture, const std::vector<DecayPoint>& points) {
  const double first_s = points.front().time_s;
  const double last_s = 0.5 * (first_s + points.back().time_s);
  double best_s = last_s, least = 1e300;
  // Not the very first: a point at the edge is held by no other beside it.
  for (int k = 1; k <= kInstants; ++k) {
    const double t_s = first_s + (last_s - first_s) * k / kInstants;
    const auto [slope, u] = mixture([t_s](const FittedDecay& law) { return law.slope_kpa_s(t_s); });
    const auto warmth = [t_s](const FittedDecay& law) { return law.warmth_slope_kpa_s(t_s); };
    const double share = u / (u + std::abs(slope));
    if (share >= least || std::abs(mixture(warmth).value) > u) continue;
    least = share;
    best_s = t_s;
  }
  return best_s;
}

// What the readings around an instant say, brought there by the fit: what moves the line, known or
// not, is in them, so that only their noise counts.
Uncertain pressure_at(double t_s, const Mixture& mixture, const std::vector<DecayPoint>& points,
                      const NoiseModel& noise, double period_s) {
  const double reach_s = kAround * (points.back().time_s - points.front().time_s);
  double off = 0, n = 0;
  for (const DecayPoint& point : points) {
    if (std::abs(point.time_s - t_s) > reach_s) continue;
    const double at_s = point.time_s;
    off += point.n * (point.pressure_kpa - mixture([at_s](const FittedDecay& law) {
                                             return law.pressure_kpa(at_s);
                                           }).value);
    n += point.n;
  }
  const auto here = [t_s](const FittedDecay& law) { return law.pressure_kpa(t_s); };
  if (!(n > 0)) return mixture(here);
  return {mixture(here).value + off / n,
          std::sqrt(mixture.widening() * noise.variance_of_mean(n * period_s))};
}

}  // namespace

bool DecayFit::leaks() const { return std::abs(slope_kpa_s.value) > 2 * slope_kpa_s.u; }

double DecayFit::bound_kpa_s() const {
  return std::abs(slope_kpa_s.value) + 1.645 * slope_kpa_s.u;  // one-sided 95 %
}

std::optional<DecayFit> fit_decay(std::span<const DecayPoint> all, const DecaySettings& settings,
                                  std::string& why) {
  if (all.size() < 5 || all.back().time_s - all.front().time_s < kLeastLength_s) {
    why = all.size() < 5 ? "fewer than 5 readings" : "shorter than 0.3 s";
    return std::nullopt;
  }
  const std::vector<DecayPoint> points = grouped(all);
  const double length_s = all.back().time_s - all.front().time_s;
  double period_s = settings.period_s;
  if (!(period_s > 0)) {
    double readings = 0;
    for (const DecayPoint& point : all) readings += point.n;
    period_s = length_s / std::max(1.0, readings - 1);
  }
  const NoiseModel noise =
      settings.noise
          ? *settings.noise
          : assumed_noise(std::max(rough_noise(all), kLeastNoise_kpa), 0, period_s, length_s);
  const Eigen::LLT<Eigen::MatrixXd> factor(covariance_of(points, noise, settings, period_s));
  if (factor.info() != Eigen::Success) {
    why = "the noise cannot be told";
    return std::nullopt;
  }
  const Eigen::MatrixXd lower = factor.matrixL();
  const bool above = points[points.size() / 2].pressure_kpa > 0;
  const auto hole = [above](HoleDecay::Shape shape) {
    return LeakLaw(above ? HoleDecay::above_ambient(shape) : HoleDecay::below_ambient(shape));
  };
  std::vector<FittedDecay> laws;
  double chi2 = 1e300;
  for (const LeakLaw& law : {LeakLaw(LeakLaw::Flow::kLaminar), LeakLaw(LeakLaw::Flow::kLinear),
                             hole(HoleDecay::Shape::kIdeal), hole(HoleDecay::Shape::kPassage)})
    if (auto fitted = fitted_decay(law, points, lower, settings.u_zero_kpa)) {
      chi2 = std::min(chi2, fitted->chi2);
      laws.push_back(*fitted);
    }
  if (laws.empty()) {
    why = "no decay model fits";
    return std::nullopt;
  }
  DecayFit out;
  // Start and rate are free, the rest is half known beforehand.
  constexpr double kFree = 4;
  out.misfit = chi2 / std::max(1.0, static_cast<double>(points.size()) - kFree);
  const Mixture mixture(std::move(laws), std::max(noise.learnt ? 1.0 : 1e-6, out.misfit));
  out.window_end_s = all.back().time_s;
  const double t_s = out.window_start_s = window_start_s(mixture, points);
  out.hole_weight = mixture.hole_weight();
  const auto slope = [t_s](const FittedDecay& law) { return law.slope_kpa_s(t_s); };
  out.slope_kpa_s = mixture(slope);
  // Where none fits, which fits best says little about which is right.
  const double unfit = out.misfit > kMisfit ? 1 - 1 / out.misfit : 0;
  out.slope_kpa_s.u =
      combine(out.slope_kpa_s.u, kLaw * out.slope_kpa_s.value, unfit * mixture.spread(slope));
  // No leak takes a line away from ambient: what looks so is a misfit of its size.
  if (out.slope_kpa_s.value * points.back().pressure_kpa > 0)
    out.slope_kpa_s = {0, combine(out.slope_kpa_s.u, out.slope_kpa_s.value)};
  out.pressure_kpa = pressure_at(t_s, mixture, points, noise, period_s);
  out.warmth_kpa = mixture([t_s](const FittedDecay& law) { return law.warmth_kpa(t_s); }).value;
  out.moving_kpa_s =
      mixture([t_s](const FittedDecay& law) {
        constexpr double kStep_s = 1e-3;
        return (law.pressure_kpa(t_s + kStep_s) - law.pressure_kpa(t_s - kStep_s)) / (2 * kStep_s);
      }).value;
  if (out.hole_weight < kNeverConstant && out.leaks()) {
    const double share = out.slope_kpa_s.u / std::abs(out.slope_kpa_s.value);
    const double tau_s = -out.pressure_kpa.value / out.slope_kpa_s.value;
    if (tau_s > 0) out.tau_s = Uncertain{tau_s, tau_s * share};
  }
  return out;
}

}  // namespace airlatch
