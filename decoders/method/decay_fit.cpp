// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/method/decay_fit.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>
#include <vector>

#include "decoders/method/decay_models.hpp"
#include "decoders/method/elementary.hpp"

namespace airlatch {
namespace {

// Fine cracks and porous rubber are longer than wide, so that friction rules (reference flow at
// 0.1 mm x 10 mm and 40 kPa: Reynolds number 548); short holes are rarer. Common practice, no
// source.
constexpr double kViscousOdds = 10;
constexpr double kRuledOut = 0.01;          // weight of a law that is out of the question
constexpr double kRelaxationSeen = 0.3;     // weight from which a relaxation may be there
constexpr double kThermalMatters = 0.005;   // of the pressure
constexpr double kOverAfter = 4;            // relaxation times: 2 % of it are left
constexpr double kNeverExponential = 0.95;  // weight of the hole beyond which no tau is given
constexpr double kMostCorrelation = 0.98;
constexpr std::size_t kCoarsePoints = 60;
// Readings that never move are still no more exact than the float that holds them.
constexpr double kLeastNoise_kpa = 1e-5;

// The noise that the residuals of the fits show.
struct Noise {
  double variance = 1;     // of a reading, over the one that was assumed
  double correlation = 0;  // lag-1, where it is beyond chance
  [[nodiscard]] double inflation() const { return (1 + correlation) / (1 - correlation); }
  // Scales a variance of the fit from residuals of unit variance to their real variance.
  [[nodiscard]] double paid(double fit_variance) const {
    return fit_variance * std::max(variance, 1e-12) * inflation();
  }
};

double lag_1_correlation(const FittedDecay& fitted, const std::vector<DecayPoint>& points) {
  double lag = 0, square = 0, last = 0;
  DecayCurve curve(fitted.model, fitted.x);
  DecayParameters unused(fitted.model.size());
  for (const DecayPoint& point : points) {
    const double r = std::sqrt(point.n) * (point.pressure_kpa - curve.value(point.time_s, unused));
    lag += r * last;
    square += r * r;
    last = r;
  }
  // Residuals of k fitted parameters are anticorrelated by about k/n: undone before it is judged.
  const auto n = static_cast<double>(points.size());
  const double rho = lag / std::max(square, 1e-300) + static_cast<double>(fitted.model.size()) / n;
  return rho > 2 / std::sqrt(n) ? std::min(rho, kMostCorrelation) : 0;
}

// Noise and its correlation from the residuals of the law with the most parameters.
Noise noise_of(const std::vector<FittedDecay>& models, const std::vector<DecayPoint>& points,
               double sigma, double resolution_kpa) {
  const FittedDecay& closest =
      *std::min_element(models.begin(), models.end(),
                        [](const FittedDecay& a, const FittedDecay& b) { return a.chi2 < b.chi2; });
  const double freedom =
      std::max(1.0, static_cast<double>(points.size()) - static_cast<double>(closest.model.size()));
  const double least_kpa = std::max(resolution_kpa, kLeastNoise_kpa);
  return {.variance = std::max(closest.chi2 / freedom, elementary::square(least_kpa / sigma)),
          .correlation = lag_1_correlation(closest, points)};
}

// AICc, less 2 ln of the law's odds.
double score_of(const FittedDecay& fitted, const Noise& noise, double n) {
  // Start and rate are free. The zero and the relaxation have priors, whose residuals are in the
  // squares; counted as free on top, a small relaxation would pass for a leak.
  constexpr double kFree = 2;
  return fitted.squares / (noise.variance * noise.inflation()) + 2 * kFree +
         2 * kFree * (kFree + 1) / std::max(1.0, n - kFree - 1) +
         (fitted.model.hole ? 2 * elementary::log(kViscousOdds) : 0);
}

// One law's value of a quantity.
struct Estimate {
  double value = 0, variance = 0, weight = 0;
};

// Each with its own and the between-model variance.
Uncertain averaged(const std::vector<Estimate>& estimates) {
  double sum = 0, weights = 0;
  for (const Estimate& one : estimates) {
    sum += one.weight * one.value;
    weights += one.weight;
  }
  Uncertain result{sum / std::max(weights, 1e-300), 0};
  double variance = 0;
  for (const Estimate& one : estimates) {
    const double off = one.value - result.value;
    variance += one.weight / weights * (one.variance + off * off);
  }
  result.u = std::sqrt(variance);
  return result;
}

// The leak's slope at t. It depends on its start and rate; `by` by differences, for any law.
double slope_at(const FittedDecay& fitted, double t, DecayParameters& by) {
  for (const Eigen::Index k : {0, 1}) {
    const double step = 1e-5 * std::max(std::abs(fitted.x[k]), 1e-6);
    DecayParameters up = fitted.x, down = fitted.x;
    up[k] += step;
    down[k] -= step;
    by[k] = (decay_slope(fitted.model, up, t) - decay_slope(fitted.model, down, t)) / (2 * step);
  }
  return decay_slope(fitted.model, fitted.x, t);
}

// The fitted laws with their Akaike weights, and their combined result.
class Mixture {
 public:
  Mixture(std::vector<FittedDecay> models, const Noise& noise, double n);
  [[nodiscard]] double hole_weight() const;
  [[nodiscard]] double thermal_weight() const;
  // The best law with relaxation; null: none.
  [[nodiscard]] const FittedDecay* thermal() const;
  [[nodiscard]] Uncertain slope_kpa_s(double t) const;
  [[nodiscard]] Uncertain pressure_kpa(double t) const;  // of the leak alone
  // Of the exponential laws; none where there are none or where it cannot be distinguished from
  // infinite.
  [[nodiscard]] std::optional<Uncertain> tau_s() const;

 private:
  struct Law {
    FittedDecay fitted;
    double score = 0, weight = 0;
  };
  // `by`: the derivatives of the value by the law's parameters.
  [[nodiscard]] Estimate estimate(const Law& law, double value, const DecayParameters& by) const;
  Noise noise_;
  std::vector<Law> laws_;
};

Mixture::Mixture(std::vector<FittedDecay> models, const Noise& noise, double n) : noise_(noise) {
  double least = 1e300;
  for (FittedDecay& fitted : models) {
    const double score = score_of(fitted, noise, n);
    least = std::min(least, score);
    laws_.push_back({std::move(fitted), score});
  }
  double total = 0;
  for (const Law& law : laws_) total += elementary::exp(-0.5 * (law.score - least));
  for (Law& law : laws_) law.weight = elementary::exp(-0.5 * (law.score - least)) / total;
}

double Mixture::hole_weight() const {
  double weight = 0;
  for (const Law& law : laws_)
    if (law.fitted.model.hole) weight += law.weight;
  return weight;
}

double Mixture::thermal_weight() const {
  double weight = 0;
  for (const Law& law : laws_)
    if (law.fitted.model.relaxes) weight += law.weight;
  return weight;
}

const FittedDecay* Mixture::thermal() const {
  const FittedDecay* best = nullptr;
  double least = 1e300;
  for (const Law& law : laws_)
    if (law.fitted.model.relaxes && law.score < least) {
      least = law.score;
      best = &law.fitted;
    }
  return best;
}

Estimate Mixture::estimate(const Law& law, double value, const DecayParameters& by) const {
  // The data's share of the covariance grows with its true variance; the prior's does not, which
  // is left aside: the zero matters through its correlation only.
  double variance = 0;
  for (Eigen::Index i = 0; i < by.size(); ++i)
    for (Eigen::Index k = 0; k < by.size(); ++k)
      variance += by[i] * law.fitted.covariance(i, k) * by[k];
  return {value, noise_.paid(variance), law.weight};
}

Uncertain Mixture::slope_kpa_s(double t) const {
  std::vector<Estimate> estimates;
  for (const Law& law : laws_) {
    DecayParameters by = DecayParameters::Zero(law.fitted.model.size());
    const double slope = slope_at(law.fitted, t, by);
    estimates.push_back(estimate(law, slope, by));
  }
  return averaged(estimates);
}

Uncertain Mixture::pressure_kpa(double t) const {
  std::vector<Estimate> estimates;
  for (const Law& law : laws_) {
    DecayParameters by = DecayParameters::Zero(law.fitted.model.size());
    DecayCurve curve(law.fitted.model, law.fitted.x);
    const double pressure = curve.leak_pressure(t, by);
    estimates.push_back(estimate(law, pressure, by));
  }
  return averaged(estimates);
}

std::optional<Uncertain> Mixture::tau_s() const {
  std::vector<Estimate> estimates;
  for (const Law& law : laws_) {
    if (law.fitted.model.hole) continue;
    DecayParameters by = DecayParameters::Zero(law.fitted.model.size());
    by[1] = 1;
    estimates.push_back(estimate(law, law.fitted.x[1], by));
  }
  if (estimates.empty()) return std::nullopt;
  const Uncertain rate = averaged(estimates);
  if (!(rate.value > 2 * rate.u)) return std::nullopt;
  return Uncertain{1 / rate.value, rate.u / (rate.value * rate.value)};
}

// Where the leak can be read: after the relaxation, and where the laws agree. `fit` holds what is
// known of both.
double window_start_s(const DecayFit& fit, double u_thermal_kpa,
                      const std::vector<DecayPoint>& points) {
  const double last_s = points.back().time_s;
  double start_s = points.front().time_s;
  // A relaxation may be there, seen or hidden in the noise: wait until it would be over.
  const double most_kpa = std::abs(fit.thermal_kpa) + 2 * u_thermal_kpa;
  if (fit.thermal_weight > kRelaxationSeen &&
      most_kpa > kThermalMatters * std::abs(points.front().pressure_kpa))
    start_s = std::max(start_s, std::min(kOverAfter * fit.thermal_tau_s, 0.5 * last_s));
  // At the rest's very start the two laws differ most. Where the readings cannot decide between
  // them, the window begins where they agree better, and what is reported rests on more.
  if (fit.hole_weight > kRuledOut && fit.hole_weight < 1 - kRuledOut)
    start_s = std::max(start_s, last_s / 3);
  return start_s;
}

}  // namespace

bool DecayFit::leaks() const { return std::abs(slope_kpa_s.value) > 2 * slope_kpa_s.u; }

double DecayFit::bound_kpa_s() const {
  return std::abs(slope_kpa_s.value) + 1.645 * slope_kpa_s.u;  // one-sided 95 %
}

std::optional<DecayFit> fit_decay(std::span<const DecayPoint> all, const DecaySettings& settings,
                                  std::string& why) {
  if (all.size() < 5 || all.back().time_s - all.front().time_s < 1) {
    why = all.size() < 5 ? "fewer than 5 readings" : "shorter than 1 s";
    return std::nullopt;
  }
  const std::vector<DecayPoint> points = grouped(all, kMostPoints),
                                coarse = grouped(all, kCoarsePoints);
  const double sigma = std::max({rough_noise(points), settings.noise_kpa, kLeastNoise_kpa});
  std::vector<FittedDecay> models = fitted_models(points, coarse, sigma, settings);
  if (models.empty()) {
    why = "no decay model fits";
    return std::nullopt;
  }
  const Noise noise = noise_of(models, points, sigma, settings.noise_kpa);
  const Mixture mixture(std::move(models), noise, static_cast<double>(points.size()));

  DecayFit out;
  out.correlation = noise.correlation;
  out.residual_kpa = sigma * std::sqrt(noise.variance);
  out.hole_weight = mixture.hole_weight();
  out.thermal_weight = mixture.thermal_weight();
  double u_thermal_kpa = 0;
  if (const FittedDecay* thermal = mixture.thermal()) {
    constexpr Eigen::Index kAt = DecayModel::kThermalAt;
    out.thermal_kpa = thermal->x[kAt];
    out.thermal_tau_s = elementary::exp(thermal->x[kAt + 1]);
    u_thermal_kpa = std::sqrt(noise.paid(std::max(0.0, thermal->covariance(kAt, kAt))));
  }
  out.window_start_s = window_start_s(out, u_thermal_kpa, points);
  out.slope_kpa_s = mixture.slope_kpa_s(out.window_start_s);
  out.slope_kpa_s.u = combine(out.slope_kpa_s.u, settings.drift_kpa_s);
  out.pressure_kpa = mixture.pressure_kpa(out.window_start_s);
  if (out.hole_weight < kNeverExponential) out.tau_s = mixture.tau_s();
  return out;
}

}  // namespace airlatch
