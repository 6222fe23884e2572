// SPDX-License-Identifier: GPL-3.0-or-later
// decay_models.hpp: the laws by which a closed line's pressure may fall, each fitted by itself.
//
// In    averaged pressure points and the covariance of their noise.
// Out   a law's parameters, their covariance, and the weighted squares that are left.
// How   p(t) = z + law(p0, k, t) + b1 exp(-t / tau1) + b2 exp(-t / tau2); the law is one of
//         laminar  dp/dt = -k p (1 + p / (2 p_ambient)), compressible flow through long fine gaps
//                  (Hagen-Poiseuille, mass flow ~ difference of the squares of the absolute
//                  pressures), for small p the exponential; p / (p + 2 p_ambient) decays as exp(-k t)
//         linear   dp/dt = -k p: what seeps through rubber, and any viscous leak at low pressure
//         hole     the ideal orifice, choked and not, or a short passage (method/hole_decay)
//       and two relaxations stand for warmth that leaves and hoses that give. Generalised least
//       squares (Aitken 1935): residuals and derivatives are freed of the noise's correlation by its
//       Cholesky factor. What is known beforehand enters as residuals of its own: z ~ N(0, u_zero);
//       b1 ~ N(0, 8 kPa), b2 ~ N(0, 4 kPa), more as the root of the pressure above 50 kPa; ln tau1 ~ N(ln 0.5 s,
//       0.8), ln tau2 ~ N(ln 1.8 s, 0.6) (common practice, no source).
// Cost  some ten iterations of (points^2 / 2) x 8 operations.
#pragma once
#include <Eigen/Dense>
#include <optional>
#include <span>
#include <vector>

#include "decoders/method/decay_fit.hpp"
#include "decoders/method/hole_decay.hpp"

namespace airlatch {

// p0, k, z, b1, ln tau1, b2, ln tau2.
constexpr int kDecayParameters = 7;
using DecayParameters = Eigen::Matrix<double, kDecayParameters, 1>;
using DecayCovariance = Eigen::Matrix<double, kDecayParameters, kDecayParameters>;

// The law of a leak with nothing else: gauge pressure from a start and a rate, and dp/dt.
class LeakLaw {
 public:
  enum class Flow { kLaminar, kLinear };
  explicit LeakLaw(Flow flow) : bends_(flow == Flow::kLaminar ? 1 : 0) {}
  explicit LeakLaw(const HoleDecay& hole) : hole_(&hole) {}
  [[nodiscard]] bool is_hole() const { return hole_ != nullptr; }
  [[nodiscard]] double slope_kpa_s(double gauge_kpa, double rate_per_s) const;
  // The rate at which the slope is this.
  [[nodiscard]] double rate_of(double gauge_kpa, double slope_kpa_s) const;
  // Pressures at rising instants; quick where they are near each other.
  class From {
   public:
    From(const LeakLaw& law, double start_kpa, double rate_per_s);
    HoleDecay::State at(double t_s);

   private:
    bool hole_ = false;
    HoleDecay::From curve_ = {};
    double rate_per_s_ = 0, bends_ = 0, start_kpa_ = 0;
  };

 private:
  const HoleDecay* hole_ = nullptr;
  double bends_ = 0;  // 1: compressible
};

struct FittedDecay {
  LeakLaw law;
  DecayParameters x;
  DecayCovariance covariance;                           // as the noise model and the priors have it
  double chi2 = 0;                                      // of the data
  double squares = 0;                                   // and of what was known beforehand
  [[nodiscard]] double pressure_kpa(double t_s) const;  // all of it
  [[nodiscard]] double warmth_kpa(double t_s) const;    // of the relaxations alone
  [[nodiscard]] double warmth_slope_kpa_s(double t_s) const;
  [[nodiscard]] double slope_kpa_s(double t_s) const;  // of the leak alone, at that pressure
};

// How much larger than usual relaxations may be at this pressure.
double relaxation_scale(double gauge_kpa);

// The fit of one law; none where it does not stay finite. `lower` is the Cholesky factor of the
// points' covariance.
std::optional<FittedDecay> fitted_decay(const LeakLaw& law, std::span<const DecayPoint> points,
                                        const Eigen::MatrixXd& lower, double u_zero_kpa);

}  // namespace airlatch
