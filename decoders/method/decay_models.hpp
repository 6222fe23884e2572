// SPDX-License-Identifier: GPL-3.0-or-later
// decay_models.hpp: the laws that a closed line's pressure may follow, each fitted by itself.
//
// In    averaged pressure points, few and many; the standard deviation of one reading.
// Out   the laws that may describe them, with parameters, covariance and weighted squares.
// How   the models and priors that decay_fit.hpp names, by nonlinear least squares. The way to a
//       minimum is found on few points, its place on all of them; a law that could have no weight
//       beside another (kNoWeight) is left where the few points led.
// Cost  some forty iterations on the few points, a few on all.
#pragma once
#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <span>
#include <vector>

#include "decoders/method/decay_fit.hpp"
#include "decoders/method/elementary.hpp"
#include "decoders/method/hole_decay.hpp"

namespace airlatch {

struct DecayModel {
  const HoleDecay* hole = nullptr;  // none: exponential
  bool relaxes = false;
  [[nodiscard]] Eigen::Index size() const { return 3 + (relaxes ? 2 : 0); }
  static constexpr Eigen::Index kThermalAt = 3;
};

constexpr int kMostParameters = 5;
using DecayParameters = Eigen::Matrix<double, Eigen::Dynamic, 1, 0, kMostParameters, 1>;
using DecayCovariance =
    Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, kMostParameters, kMostParameters>;

struct FittedDecay {
  DecayModel model;
  DecayParameters x;
  DecayCovariance covariance;  // for the residual variance of the fit
  double chi2 = 0;             // of the data, at unit assumed variance
  double squares = 0;          // chi2 and the priors' share: improbable values pay for themselves
  bool usable = false;
};

// A model with its parameters: pressure at t = 0 over z, rate, z; then b, ln tau_th. What does not
// depend on the time is computed once. Fastest when the instants asked for rise.
class DecayCurve {
 public:
  template <typename X>
  DecayCurve(const DecayModel& model, const X& x)
      : model_(model),
        x_(x),
        hole_(model.hole ? model.hole->from(x[0], x[1]) : HoleDecay::From()),
        tau_s_(model.relaxes
                   ? elementary::exp(std::clamp(x_[DecayModel::kThermalAt + 1], -7.0, 7.0))
                   : 0) {}

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
    const double e = elementary::exp(std::clamp(-x_[1] * t, -50.0, 50.0));
    d[0] = e;
    d[1] = -x_[0] * t * e;
    return x_[2] + x_[0] * e;
  }

  template <typename D>
  double value(double t, D& d) {
    double p = leak_pressure(t, d);
    if constexpr (D::RowsAtCompileTime != 3) {
      if (model_.relaxes) {
        const double e = elementary::exp(-t / tau_s_);
        p += x_[DecayModel::kThermalAt] * e;
        d[DecayModel::kThermalAt] = e;
        d[DecayModel::kThermalAt + 1] = x_[DecayModel::kThermalAt] * e * t / tau_s_;
      }
    }
    return p;
  }

 private:
  const DecayModel& model_;
  const DecayParameters x_;
  HoleDecay::From hole_;
  double tau_s_;
};

// dp/dt of the leak at t.
double decay_slope(const DecayModel& model, const DecayParameters& x, double t);

// Neighbours averaged until at most `most` are left.
std::vector<DecayPoint> grouped(std::span<const DecayPoint> points, std::size_t most);

// Standard deviation of one reading from second differences: a smooth curve does not disturb them.
double rough_noise(const std::vector<DecayPoint>& points);

// `coarse`: the same points in few groups; `sigma`: the standard deviation of one reading.
std::vector<FittedDecay> fitted_models(const std::vector<DecayPoint>& points,
                                       const std::vector<DecayPoint>& coarse, double sigma,
                                       const DecaySettings& settings);

}  // namespace airlatch
