#include "decoders/method/decay_fit.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <initializer_list>
#include <optional>
#include <vector>

#include "decoders/method/hole_decay.hpp"
#include "decoders/method/nonlinear_fit.hpp"

namespace airlatch {
namespace {

constexpr double kThermalTau_s = 1.0, kThermalSpread = 0.8, kThermal_kpa = 8;
// Fine cracks and porous rubber are longer than wide, so that friction rules (reference flow at
// 0.1 mm x 10 mm and 40 kPa: Reynolds number 548); short holes are rarer. Common practice, no
// source.
constexpr double kViscousOdds = 10;
constexpr double kTold = 0.01;             // weight of a law that is out of the question
constexpr double kThermalMatters = 0.005;  // of the pressure
constexpr double kOverAfter = 4;           // relaxation times: 2 % of it are left

constexpr std::size_t kCoarsePoints = 60;
// A fit ends when its parameters are as near to the minimum, in their standard uncertainties.
constexpr FitSettings kNear{.damping = 1e-3, .most_iterations = 25, .moved = 1e-8, .offset = 1e-2},
    kThere{.damping = 1e-9, .most_iterations = 60, .moved = 1e-8, .offset = 1e-5};
constexpr double kGoodVariance = 3;     // of the residuals, over the expected one
constexpr double kMostInflation = 100;  // of the variance, by correlated residuals
constexpr double kNoWeight = 60;        // score that leaves a model 1e-13 of the best one's weight

struct Model {
  const HoleDecay* hole = nullptr;  // none: exponential
  bool relaxes = false;
  [[nodiscard]] Eigen::Index size() const { return 3 + (relaxes ? 2 : 0); }
  static constexpr Eigen::Index kThermalAt = 3;
};

constexpr int kMostParameters = 5;
using Parameters = Eigen::Matrix<double, Eigen::Dynamic, 1, 0, kMostParameters, 1>;
using Covariance =
    Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, kMostParameters, kMostParameters>;

struct Fitted {
  Model model;
  Parameters x;
  Covariance covariance;  // for the residual variance of the fit
  double chi2 = 0;        // of the data, at unit assumed variance
  double score = 0;       // AICc
  bool usable = false;
};

// A model with its parameters: pressure at t = 0 over z, rate, z; then b, ln tau_th. What does not
// hang on the time is worked out once. Instants had better rise from one question to the next.
class Curve {
 public:
  template <typename X>
  Curve(const Model& model, const X& x)
      : model_(model),
        x_(x),
        hole_(model.hole ? model.hole->from(x[0], x[1]) : HoleDecay::From()),
        tau_s_(model.relaxes ? std::exp(std::clamp(x[Model::kThermalAt + 1], -7.0, 7.0)) : 0) {}

  // The leak's own pressure at t, z included, and its derivatives.
  template <typename D>
  double leak_pressure(double t, D& d) {
    d[2] = 1;
    if (model_.hole) {
      const HoleDecay::State state = hole_.at(t);
      d[0] = state.by_start;
      d[1] = state.by_rate_s;
      return x_[2] + state.gauge_kpa;
    }
    const double e = std::exp(std::clamp(-x_[1] * t, -50.0, 50.0));
    d[0] = e;
    d[1] = -x_[0] * t * e;
    return x_[2] + x_[0] * e;
  }

  template <typename D>
  double value(double t, D& d) {
    double p = leak_pressure(t, d);
    if constexpr (D::RowsAtCompileTime != 3) {
      if (model_.relaxes) {
        const double e = std::exp(-t / tau_s_);
        p += x_[Model::kThermalAt] * e;
        d[Model::kThermalAt] = e;
        d[Model::kThermalAt + 1] = x_[Model::kThermalAt] * e * t / tau_s_;
      }
    }
    return p;
  }

 private:
  const Model& model_;
  const Parameters x_;
  HoleDecay::From hole_;
  double tau_s_;
};

// dp/dt of the leak at t.
double leak_slope(const Model& m, const Parameters& x, double t) {
  if (m.hole) return m.hole->slope_kpa_s(m.hole->at(x[0], x[1], t).gauge_kpa, x[1]);
  return -x[0] * x[1] * std::exp(-x[1] * t);
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

// Standard deviation of one reading from second differences: a smooth curve does not disturb them.
// Readings that never move are still no better than the float they are kept in.
constexpr double kLeastNoise_kpa = 1e-5;

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

// Where a fit may begin: level and slope from the second half, where the relaxation has gone.
Parameters start_of(const Model& model, const std::vector<DecayPoint>& points, double tau_start_s) {
  const DecayPoint &first = points.front(), &middle = points[points.size() / 2],
                   &end = points.back();
  const double slope = (end.pressure_kpa - middle.pressure_kpa) / (end.time_s - middle.time_s);
  const double back_kpa = middle.pressure_kpa - slope * (middle.time_s - first.time_s);
  Parameters x(model.size());
  const double level = std::abs(middle.pressure_kpa) > 1e-6 ? middle.pressure_kpa : 1e-6;
  const double rate = std::clamp(-slope / level, -1.0 / end.time_s, 20.0 / end.time_s);
  x[0] = std::clamp(level * std::exp(rate * (middle.time_s - first.time_s)), -200.0, 200.0);
  x[1] = model.hole ? -slope / std::copysign(100.0, level) : rate;
  x[2] = 0;
  if (model.relaxes) {
    x[Model::kThermalAt] = first.pressure_kpa - back_kpa;
    x[Model::kThermalAt + 1] = std::log(tau_start_s);
  }
  return x;
}

template <int K>
Fitted fit(const Model& model, const std::vector<DecayPoint>& points, double sigma,
           const DecaySettings& settings, const Parameters& start, const FitSettings& there) {
  const auto n = static_cast<Eigen::Index>(points.size());
  constexpr Eigen::Index kPriors = K - 2;  // of all but start and rate
  std::vector<double> weights;
  weights.reserve(points.size());
  for (const DecayPoint& point : points) weights.push_back(std::sqrt(point.n) / sigma);
  const auto residuals = [&](const Eigen::Matrix<double, K, 1>& x, Eigen::VectorXd& r,
                             typename NonlinearFit<K>::Jacobian& J) {
    Eigen::Matrix<double, K, 1> d = Eigen::Matrix<double, K, 1>::Zero();
    Curve curve(model, x);
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
      prior(Model::kThermalAt, 0, kThermal_kpa);
      prior(Model::kThermalAt + 1, std::log(kThermalTau_s), kThermalSpread);
    }
  };
  const Eigen::Matrix<double, K, 1> x = start;
  const auto result = fit_nonlinear(residuals, n + kPriors, x, there);
  Fitted fitted{.model = model, .x = result.parameters, .covariance = result.inverse};
  Curve curve(model, fitted.x);
  Parameters d(K);
  for (const DecayPoint& point : points)
    fitted.chi2 +=
        point.n * std::pow((curve.value(point.time_s, d) - point.pressure_kpa) / sigma, 2);
  fitted.usable = fitted.x.allFinite() && fitted.covariance.allFinite();
  if (fitted.usable && model.relaxes) {
    const double tau_s = std::exp(fitted.x[Model::kThermalAt + 1]);
    const double length_s = points.back().time_s - points.front().time_s;
    // A relaxation as long as the window, or not faster than the leak, is no such thing.
    fitted.usable = tau_s < length_s && !(!model.hole && fitted.x[1] * tau_s > 0.25);
  }
  fitted.score = result.rss;  // with the priors' share: improbable values pay for themselves
  return fitted;
}

Fitted fit(const Model& model, const std::vector<DecayPoint>& points, double sigma,
           const DecaySettings& settings, const Parameters& start, const FitSettings& there) {
  return model.relaxes ? fit<5>(model, points, sigma, settings, start, there)
                       : fit<3>(model, points, sigma, settings, start, there);
}

double variance_of(const Fitted& fitted, const std::vector<DecayPoint>& points) {
  return fitted.score /
         std::max(1.0, static_cast<double>(std::ssize(points) - fitted.model.size()));
}

bool fits(const Fitted& fitted, const std::vector<DecayPoint>& points) {
  return variance_of(fitted, points) < kGoodVariance;
}

// However correlated the residuals may be, such a law has no weight beside a better one.
bool hopeless(const Fitted& fitted, const Fitted& better, const std::vector<DecayPoint>& points) {
  return fitted.score - better.score >
         kNoWeight * kMostInflation * std::max(1.0, variance_of(better, points));
}

// The laws that may describe the points, fitted. The way to a minimum is found with few points, its
// place with all of them; a law that is hopeless already then is left out.
std::vector<Fitted> fitted_models(const std::vector<DecayPoint>& points,
                                  const std::vector<DecayPoint>& coarse, double sigma,
                                  const DecaySettings& settings) {
  std::vector<Fitted> roughly, models;
  std::optional<Fitted> least;
  const HoleDecay& hole = points[points.size() / 2].pressure_kpa > 0 ? HoleDecay::above_ambient()
                                                                     : HoleDecay::below_ambient();
  for (const HoleDecay* law : std::initializer_list<const HoleDecay*>{nullptr, &hole})
    for (const bool relaxes : {false, true}) {
      const Model model{law, relaxes};
      if (std::ssize(points) - model.size() < 2) continue;
      std::optional<Fitted> near;
      for (const double tau_s : {1.0, 0.3, 2.5}) {
        const Fitted one =
            fit(model, coarse, sigma, settings, start_of(model, coarse, tau_s), kNear);
        if (one.x.allFinite() && (!near || one.score < near->score)) near = one;
        // There is nothing to gain where it fits already, or where another law fits far better.
        if (!relaxes || (near && fits(*near, coarse)) ||
            (near && least && fits(*least, coarse) && hopeless(*near, *least, coarse)))
          break;
      }
      if (!near) continue;
      roughly.push_back(*near);
      if (near->usable && (!least || near->score < least->score)) least = near;
    }
  std::sort(roughly.begin(), roughly.end(),
            [](const Fitted& a, const Fitted& b) { return a.score < b.score; });
  least.reset();  // of those that stay usable
  for (const Fitted& near : roughly) {
    if (least && hopeless(near, *least, coarse)) break;
    const Fitted there = fit(near.model, points, sigma, settings, near.x, kThere);
    if (!there.usable) continue;
    models.push_back(there);
    if (!least) least = near;
  }
  return models;
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
  const auto n = static_cast<double>(points.size());
  const double sigma = std::max({rough_noise(points), settings.noise_kpa, kLeastNoise_kpa});

  std::vector<Fitted> models = fitted_models(points, coarse, sigma, settings);
  if (models.empty()) {
    why = "no decay model fits";
    return std::nullopt;
  }
  // Noise and its correlation from the richest description's residuals.
  const Fitted& closest =
      *std::min_element(models.begin(), models.end(),
                        [](const Fitted& a, const Fitted& b) { return a.chi2 < b.chi2; });
  const double freedom = std::max(1.0, n - static_cast<double>(closest.model.size()));
  double lag = 0, square = 0, last = 0;
  Curve curve(closest.model, closest.x);
  Parameters unused(closest.model.size());
  for (const DecayPoint& point : points) {
    const double r = std::sqrt(point.n) * (point.pressure_kpa - curve.value(point.time_s, unused));
    lag += r * last;
    square += r * r;
    last = r;
  }
  DecayFit out;
  // Residuals of k fitted parameters are anticorrelated by about k/n: undone before it is judged.
  const double rho = lag / std::max(square, 1e-300) + static_cast<double>(closest.model.size()) / n;
  out.correlation = rho > 2 / std::sqrt(n) ? std::min(rho, 0.98) : 0;
  const double inflate = (1 + out.correlation) / (1 - out.correlation);
  const double least_kpa = std::max(settings.noise_kpa, kLeastNoise_kpa);
  const double variance = std::max(closest.chi2 / freedom, std::pow(least_kpa / sigma, 2));
  out.residual_kpa = sigma * std::sqrt(variance);
  double least = 1e300;
  // Start and rate are free. The zero and the relaxation have priors, whose residuals are in the
  // score; counted as free on top, a small relaxation would pass for a leak.
  constexpr double kFree = 2;
  for (Fitted& m : models) {
    m.score = m.score / (variance * inflate) + 2 * kFree +
              2 * kFree * (kFree + 1) / std::max(1.0, n - kFree - 1) +
              (m.model.hole ? 2 * std::log(kViscousOdds) : 0);
    least = std::min(least, m.score);
  }
  double total = 0;
  for (Fitted& m : models) total += std::exp(-0.5 * (m.score - least));
  const Fitted* thermal = nullptr;
  double thermal_best = 1e300;
  for (Fitted& m : models) {
    const double weight = std::exp(-0.5 * (m.score - least)) / total;
    if (m.model.hole) out.hole_weight += weight;
    if (m.model.relaxes) {
      out.thermal_weight += weight;
      if (m.score < thermal_best) {
        thermal_best = m.score;
        thermal = &m;
      }
    }
  }
  out.window_start_s = points.front().time_s;
  if (thermal) {
    out.thermal_kpa = thermal->x[Model::kThermalAt];
    out.thermal_tau_s = std::exp(thermal->x[Model::kThermalAt + 1]);
    const double u_thermal =
        std::sqrt(std::max(0.0, thermal->covariance(Model::kThermalAt, Model::kThermalAt)) *
                  std::max(variance, 1e-12) * inflate);
    // It may be there, seen or hidden in the noise: wait until it would be over.
    const double most_kpa = std::abs(out.thermal_kpa) + 2 * u_thermal;
    if (out.thermal_weight > 0.3 &&
        most_kpa > kThermalMatters * std::abs(points.front().pressure_kpa))
      out.window_start_s = std::max(
          out.window_start_s, std::min(kOverAfter * out.thermal_tau_s, 0.5 * points.back().time_s));
  }
  // At the rest's very start the two laws differ most. Where the readings cannot tell which it is,
  // the window begins where they agree better, and what is told is told with more right.
  if (out.hole_weight > kTold && out.hole_weight < 1 - kTold)
    out.window_start_s = std::max(out.window_start_s, points.back().time_s / 3);
  // Averages over the models, each with its own and the between-model variance.
  const double t = out.window_start_s;
  const auto average = [&](auto&& get, bool exponential_only) {
    double sum = 0, weights = 0;
    std::vector<std::array<double, 3>> parts;
    for (const Fitted& m : models) {
      if (exponential_only && m.model.hole) continue;
      Parameters d = Parameters::Zero(m.model.size());
      const double v = get(m, d);
      const double weight = std::exp(-0.5 * (m.score - least)) / total;
      // The data's share of the covariance grows with its true variance; the prior's does not,
      // which is left aside: the zero matters through its correlation only.
      const double u2 = d.dot(m.covariance * d) * std::max(variance, 1e-12) * inflate;
      parts.push_back({weight, v, u2});
      sum += weight * v;
      weights += weight;
    }
    Uncertain result{sum / std::max(weights, 1e-300), 0};
    double u2 = 0;
    for (const auto& [weight, v, one] : parts)
      u2 += weight / weights * (one + (v - result.value) * (v - result.value));
    result.u = std::sqrt(u2);
    return result;
  };
  out.slope_kpa_s = average(
      [&](const Fitted& m, Parameters& d) {
        // The leak's slope hangs on its start and rate; by differences, for any law.
        for (const Eigen::Index k : {0, 1}) {
          const double step = 1e-5 * std::max(std::abs(m.x[k]), 1e-6);
          Parameters up = m.x, down = m.x;
          up[k] += step;
          down[k] -= step;
          d[k] = (leak_slope(m.model, up, t) - leak_slope(m.model, down, t)) / (2 * step);
        }
        return leak_slope(m.model, m.x, t);
      },
      false);
  out.slope_kpa_s.u = combine(out.slope_kpa_s.u, settings.drift_kpa_s);
  out.pressure_kpa = average(
      [&](const Fitted& m, Parameters& d) { return Curve(m.model, m.x).leak_pressure(t, d); },
      false);
  const bool exponential =
      std::any_of(models.begin(), models.end(), [](const Fitted& m) { return !m.model.hole; });
  if (exponential && out.hole_weight < 0.95) {
    const Uncertain rate = average(
        [&](const Fitted& m, Parameters& d) {
          d[1] = 1;
          return m.x[1];
        },
        true);
    if (rate.value > 2 * rate.u)
      out.tau_s = Uncertain{1 / rate.value, rate.u / (rate.value * rate.value)};
  }
  return out;
}

}  // namespace airlatch
