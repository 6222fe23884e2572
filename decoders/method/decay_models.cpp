// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/method/decay_models.hpp"

#include <initializer_list>
#include <optional>

#include "decoders/method/elementary.hpp"
#include "decoders/method/nonlinear_fit.hpp"

namespace airlatch {
namespace {

constexpr double kThermalTau_s = 1.0, kThermalSpread = 0.8, kThermal_kpa = 8;

// A fit ends when its parameters are as near to the minimum, in their standard uncertainties.
constexpr FitSettings kNear{.damping = 1e-3, .most_iterations = 25, .moved = 1e-8, .offset = 1e-2},
    kThere{.damping = 1e-9, .most_iterations = 60, .moved = 1e-8, .offset = 1e-5};
constexpr double kGoodVariance = 3;     // of the residuals, over the expected one
constexpr double kMostInflation = 100;  // of the variance, by correlated residuals
constexpr double kNoWeight = 60;        // score that leaves a model 1e-13 of the best one's weight

// Where a fit may begin: level and slope from the second half, where the relaxation has gone.
DecayParameters start_of(const DecayModel& model, const std::vector<DecayPoint>& points,
                         double tau_start_s) {
  const DecayPoint &first = points.front(), &middle = points[points.size() / 2],
                   &end = points.back();
  const double slope = (end.pressure_kpa - middle.pressure_kpa) / (end.time_s - middle.time_s);
  const double back_kpa = middle.pressure_kpa - slope * (middle.time_s - first.time_s);
  DecayParameters x(model.size());
  const double level = std::abs(middle.pressure_kpa) > 1e-6 ? middle.pressure_kpa : 1e-6;
  const double rate = std::clamp(-slope / level, -1.0 / end.time_s, 20.0 / end.time_s);
  x[0] = std::clamp(level * elementary::exp(rate * (middle.time_s - first.time_s)), -200.0, 200.0);
  x[1] = model.hole ? -slope / std::copysign(100.0, level) : rate;
  x[2] = 0;
  if (model.relaxes) {
    x[DecayModel::kThermalAt] = first.pressure_kpa - back_kpa;
    x[DecayModel::kThermalAt + 1] = elementary::log(tau_start_s);
  }
  return x;
}

template <int K>
FittedDecay fit(const DecayModel& model, const std::vector<DecayPoint>& points, double sigma,
                const DecaySettings& settings, const DecayParameters& start,
                const FitSettings& there) {
  const auto n = static_cast<Eigen::Index>(points.size());
  constexpr Eigen::Index kPriors = K - 2;  // of all but start and rate
  std::vector<double> weights;
  weights.reserve(points.size());
  for (const DecayPoint& point : points) weights.push_back(std::sqrt(point.n) / sigma);
  const auto residuals = [&](const Eigen::Matrix<double, K, 1>& x, Eigen::VectorXd& r,
                             typename NonlinearFit<K>::Jacobian& J) {
    Eigen::Matrix<double, K, 1> d = Eigen::Matrix<double, K, 1>::Zero();
    DecayCurve curve(model, x);
    for (Eigen::Index i = 0; i < n; ++i) {
      const DecayPoint& point = points[static_cast<std::size_t>(i)];
      const double w = weights[static_cast<std::size_t>(i)];
      r[i] = w * (curve.value(point.time_s, d) - point.pressure_kpa);
      J.row(i) = w * d.transpose();
    }
    Eigen::Index row = n;
    const auto prior = [&](Eigen::Index k, double mean, double u) {
      r[row] = (x[k] - mean) / u;
      J.row(row).setZero();
      J(row, k) = 1 / u;
      ++row;
    };
    prior(2, 0, settings.u_zero_kpa);
    if constexpr (K == kMostParameters) {
      prior(DecayModel::kThermalAt, 0, kThermal_kpa);
      prior(DecayModel::kThermalAt + 1, elementary::log(kThermalTau_s), kThermalSpread);
    }
  };
  const Eigen::Matrix<double, K, 1> x = start;
  const auto result = fit_nonlinear(residuals, n + kPriors, x, there);
  FittedDecay fitted{.model = model, .x = result.parameters, .covariance = result.inverse};
  DecayCurve curve(model, fitted.x);
  DecayParameters d(K);
  for (const DecayPoint& point : points)
    fitted.chi2 +=
        point.n * elementary::square((curve.value(point.time_s, d) - point.pressure_kpa) / sigma);
  fitted.usable = fitted.x.allFinite() && fitted.covariance.allFinite();
  if (fitted.usable && model.relaxes) {
    const double tau_s = elementary::exp(fitted.x[DecayModel::kThermalAt + 1]);
    const double length_s = points.back().time_s - points.front().time_s;
    // A relaxation as long as the window, or not faster than the leak, is no such thing.
    fitted.usable = tau_s < length_s && !(!model.hole && fitted.x[1] * tau_s > 0.25);
  }
  fitted.squares = result.rss;
  return fitted;
}

FittedDecay fit(const DecayModel& model, const std::vector<DecayPoint>& points, double sigma,
                const DecaySettings& settings, const DecayParameters& start,
                const FitSettings& there) {
  return model.relaxes ? fit<5>(model, points, sigma, settings, start, there)
                       : fit<3>(model, points, sigma, settings, start, there);
}

double variance_of(const FittedDecay& fitted, const std::vector<DecayPoint>& points) {
  return fitted.squares /
         std::max(1.0, static_cast<double>(std::ssize(points) - fitted.model.size()));
}

bool fits(const FittedDecay& fitted, const std::vector<DecayPoint>& points) {
  return variance_of(fitted, points) < kGoodVariance;
}

// However correlated the residuals may be, such a law has no weight beside a better one.
bool hopeless(const FittedDecay& fitted, const FittedDecay& better,
              const std::vector<DecayPoint>& points) {
  return fitted.squares - better.squares >
         kNoWeight * kMostInflation * std::max(1.0, variance_of(better, points));
}

// The few points' best minimum of a law, from several starts; none where no fit stays finite.
// `least`: the best of the other laws so far.
std::optional<FittedDecay> roughly_fitted(const DecayModel& model,
                                          const std::vector<DecayPoint>& coarse, double sigma,
                                          const DecaySettings& settings,
                                          const std::optional<FittedDecay>& least) {
  std::optional<FittedDecay> near;
  for (const double tau_s : {1.0, 0.3, 2.5}) {
    const FittedDecay one =
        fit(model, coarse, sigma, settings, start_of(model, coarse, tau_s), kNear);
    if (one.x.allFinite() && (!near || one.squares < near->squares)) near = one;
    // There is nothing to gain where it fits already, or where another law fits far better.
    if (!model.relaxes || (near && fits(*near, coarse)) ||
        (near && least && fits(*least, coarse) && hopeless(*near, *least, coarse)))
      break;
  }
  return near;
}

// All laws at their few points' minima, the best first.
std::vector<FittedDecay> all_roughly_fitted(const std::vector<DecayPoint>& points,
                                            const std::vector<DecayPoint>& coarse, double sigma,
                                            const DecaySettings& settings) {
  std::vector<FittedDecay> roughly;
  std::optional<FittedDecay> least;
  const HoleDecay& hole = points[points.size() / 2].pressure_kpa > 0 ? HoleDecay::above_ambient()
                                                                     : HoleDecay::below_ambient();
  for (const HoleDecay* law : std::initializer_list<const HoleDecay*>{nullptr, &hole})
    for (const bool relaxes : {false, true}) {
      const DecayModel model{law, relaxes};
      if (std::ssize(points) - model.size() < 2) continue;
      const std::optional<FittedDecay> near = roughly_fitted(model, coarse, sigma, settings, least);
      if (!near) continue;
      roughly.push_back(*near);
      if (near->usable && (!least || near->squares < least->squares)) least = near;
    }
  std::sort(roughly.begin(), roughly.end(),
            [](const FittedDecay& a, const FittedDecay& b) { return a.squares < b.squares; });
  return roughly;
}

}  // namespace

double decay_slope(const DecayModel& model, const DecayParameters& x, double t) {
  if (model.hole) return model.hole->slope_kpa_s(model.hole->at(x[0], x[1], t).gauge_kpa, x[1]);
  return -x[0] * x[1] * elementary::exp(-x[1] * t);
}

std::vector<DecayPoint> grouped(std::span<const DecayPoint> points, std::size_t most) {
  const std::size_t group = (points.size() + most - 1) / most;
  std::vector<DecayPoint> out;
  for (std::size_t i = 0; i < points.size(); i += group) {
    DecayPoint sum{0, 0, 0};
    for (std::size_t j = i; j < std::min(i + group, points.size()); ++j) {
      sum.time_s += points[j].n * points[j].time_s;
      sum.pressure_kpa += points[j].n * points[j].pressure_kpa;
      sum.n += points[j].n;
    }
    out.push_back({sum.time_s / sum.n, sum.pressure_kpa / sum.n, sum.n});
  }
  return out;
}

double rough_noise(const std::vector<DecayPoint>& points) {
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

std::vector<FittedDecay> fitted_models(const std::vector<DecayPoint>& points,
                                       const std::vector<DecayPoint>& coarse, double sigma,
                                       const DecaySettings& settings) {
  std::vector<FittedDecay> models;
  std::optional<FittedDecay> least;  // of those that stay usable
  for (const FittedDecay& near : all_roughly_fitted(points, coarse, sigma, settings)) {
    if (least && hopeless(near, *least, coarse)) break;
    const FittedDecay there = fit(near.model, points, sigma, settings, near.x, kThere);
    if (!there.usable) continue;
    models.push_back(there);
    if (!least) least = near;
  }
  return models;
}

}  // namespace airlatch
