// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/method/decay_models.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "decoders/method/air.hpp"
#include "decoders/method/elementary.hpp"
#include "decoders/method/nonlinear_fit.hpp"

namespace airlatch {
namespace {

constexpr double kAmbient2_kpa = 2 * kAtmosphere_pa / 1000;
constexpr double kLeastGauge_kpa = 1e-3;

// What is known of the relaxations beforehand.
struct Relaxation {
  Eigen::Index at = 0;  // of its amplitude; the logarithm of its time follows
  double amplitude_kpa = 0, tau_s = 0, spread = 0;
};
constexpr std::array<Relaxation, 2> kRelaxations = {Relaxation{3, 8, 0.5, 0.8},
                                                    Relaxation{5, 4, 1.8, 0.6}};
constexpr double kUsual_kpa = 50;
constexpr Eigen::Index kZeroAt = 2;
constexpr Eigen::Index kPriors = 1 + 2 * std::ssize(kRelaxations);
constexpr FitSettings kThere{.damping = 1e-3, .most_iterations = 30, .moved = 1e-6, .offset = 2e-2};

double tau_of(double log_tau) { return elementary::exp(std::clamp(log_tau, -7.0, 9.0)); }

// Where a fit may begin: level and slope from the second half, the relaxations share what is left.
DecayParameters start_of(const LeakLaw& law, std::span<const DecayPoint> points) {
  const DecayPoint &first = points.front(), &middle = points[points.size() / 2],
                   &end = points.back();
  const double slope = (end.pressure_kpa - middle.pressure_kpa) / (end.time_s - middle.time_s);
  const double level = std::abs(middle.pressure_kpa) > kLeastGauge_kpa
                           ? middle.pressure_kpa
                           : std::copysign(kLeastGauge_kpa, first.pressure_kpa);
  const double most = 20 / end.time_s;
  DecayParameters x;
  x[1] = std::clamp(law.rate_of(level, slope), -most / 20, most);
  x[0] = LeakLaw::From(law, level, x[1]).at(-middle.time_s).gauge_kpa;
  if (!(std::abs(x[0]) < 2 * std::abs(first.pressure_kpa) + 1)) x[0] = first.pressure_kpa;
  x[kZeroAt] = 0;
  for (const Relaxation& relaxation : kRelaxations) {
    x[relaxation.at] = 0.5 * (first.pressure_kpa - x[0]);
    x[relaxation.at + 1] = elementary::log(relaxation.tau_s);
  }
  return x;
}

}  // namespace

double LeakLaw::slope_kpa_s(double gauge_kpa, double rate_per_s) const {
  return hole_ ? hole_->slope_kpa_s(gauge_kpa, rate_per_s)
               : -rate_per_s * gauge_kpa * (1 + bends_ * gauge_kpa / kAmbient2_kpa);
}

double LeakLaw::rate_of(double gauge_kpa, double slope_kpa_s) const {
  const double unit = this->slope_kpa_s(gauge_kpa, 1);
  return unit != 0 ? slope_kpa_s / unit : 0;
}

LeakLaw::From::From(const LeakLaw& law, double start_kpa, double rate_per_s)
    : hole_(law.is_hole()), rate_per_s_(rate_per_s), bends_(law.bends_), start_kpa_(start_kpa) {
  if (hole_) curve_ = law.hole_->from(start_kpa, rate_per_s);
}

// p / (1 + p / (2 p_ambient)) decays exponentially where the flow is compressible.
HoleDecay::State LeakLaw::From::at(double t_s) {
  if (hole_) return curve_.at(t_s);
  const double per_kpa = bends_ / kAmbient2_kpa;
  const double e = elementary::exp(std::clamp(-rate_per_s_ * t_s, -50.0, 50.0));
  const double sum = std::max(1 + per_kpa * start_kpa_, 0.01);
  const double q = start_kpa_ / sum * e;
  const double left = std::max(1 - per_kpa * q, 0.01);
  const double p = q / left, by_q = 1 / (left * left);
  return {p, by_q * e / (sum * sum), -by_q * q * t_s};
}

double FittedDecay::warmth_kpa(double t_s) const {
  double sum_kpa = 0;
  for (const Relaxation& relaxation : kRelaxations)
    sum_kpa += x[relaxation.at] * elementary::exp(-t_s / tau_of(x[relaxation.at + 1]));
  return sum_kpa;
}

double FittedDecay::warmth_slope_kpa_s(double t_s) const {
  double sum_kpa_s = 0;
  for (const Relaxation& relaxation : kRelaxations) {
    const double tau_s = tau_of(x[relaxation.at + 1]);
    sum_kpa_s -= x[relaxation.at] / tau_s * elementary::exp(-t_s / tau_s);
  }
  return sum_kpa_s;
}

double FittedDecay::pressure_kpa(double t_s) const {
  return x[kZeroAt] + LeakLaw::From(law, x[0], x[1]).at(t_s).gauge_kpa + warmth_kpa(t_s);
}

double FittedDecay::slope_kpa_s(double t_s) const {
  return law.slope_kpa_s(pressure_kpa(t_s) - x[kZeroAt], x[1]);
}

double relaxation_scale(double gauge_kpa) {
  return std::sqrt(std::max(1.0, std::abs(gauge_kpa) / kUsual_kpa));
}

std::optional<FittedDecay> fitted_decay(const LeakLaw& law, std::span<const DecayPoint> points,
                                        const Eigen::MatrixXd& lower, double u_zero_kpa) {
  const auto n = static_cast<Eigen::Index>(points.size());
  const double scale = relaxation_scale(points.front().pressure_kpa);
  const auto residuals = [&](const DecayParameters& x, Eigen::VectorXd& r,
                             NonlinearFit<kDecayParameters>::Jacobian& J) {
    LeakLaw::From from(law, x[0], x[1]);
    std::array<double, 2> tau_s = {};
    for (std::size_t k = 0; k < kRelaxations.size(); ++k)
      tau_s[k] = tau_of(x[kRelaxations[k].at + 1]);
    for (Eigen::Index i = 0; i < n; ++i) {
      const DecayPoint& point = points[static_cast<std::size_t>(i)];
      const double t = point.time_s;
      const HoleDecay::State state = from.at(t);
      r[i] = x[kZeroAt] + state.gauge_kpa - point.pressure_kpa;
      J(i, 0) = state.by_start;
      J(i, 1) = state.by_rate_s;
      J(i, kZeroAt) = 1;
      for (std::size_t k = 0; k < kRelaxations.size(); ++k) {
        const Eigen::Index at = kRelaxations[k].at;
        const double e = elementary::exp(-t / tau_s[k]);
        r[i] += x[at] * e;
        J(i, at) = e;
        J(i, at + 1) = x[at] * e * t / tau_s[k];
      }
    }
    const auto data = lower.triangularView<Eigen::Lower>();
    r.head(n) = data.solve(r.head(n)).eval();
    J.topRows(n) = data.solve(J.topRows(n)).eval();
    Eigen::Index row = n;
    const auto known = [&](Eigen::Index k, double mean, double u) {
      r[row] = (x[k] - mean) / u;
      J.row(row).setZero();
      J(row, k) = 1 / u;
      ++row;
    };
    known(kZeroAt, 0, u_zero_kpa);
    for (const Relaxation& relaxation : kRelaxations) {
      known(relaxation.at, 0, relaxation.amplitude_kpa * scale);
      known(relaxation.at + 1, elementary::log(relaxation.tau_s), relaxation.spread);
    }
  };
  const DecayParameters start = start_of(law, points);
  const auto result = fit_nonlinear<kDecayParameters>(residuals, n + kPriors, start, kThere);
  if (!result.parameters.allFinite() || !result.inverse.allFinite()) return std::nullopt;
  FittedDecay fitted{.law = law, .x = result.parameters, .covariance = result.inverse};
  fitted.squares = result.rss;
  Eigen::VectorXd r(n + kPriors);
  NonlinearFit<kDecayParameters>::Jacobian J(n + kPriors, kDecayParameters);
  residuals(fitted.x, r, J);
  fitted.chi2 = r.head(n).squaredNorm();
  return fitted;
}

}  // namespace airlatch
