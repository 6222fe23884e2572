// SPDX-License-Identifier: GPL-3.0-or-later
// decay_fit.hpp: how fast a closed line loses its pressure, the thermal part separated.
//
// In    averaged pressure points since the stop of the pump; what is known of the gauge's zero.
// Out   the decay at the window's start: pressure, slope, time constant, each with its standard
//       uncertainty.
// How   four models by least squares (method/decay_models):
//         p = z + a exp(-l t)     exponential towards ambient: a viscous leak
//         p = z + hole(a, l, t)   an ideal hole (method/hole_decay): straight while choked, then
//                                 bending less than the exponential
//       each with and without the relaxation b exp(-t/tau_th) of air that was pumped in faster than
//       it could give off its heat; that part dies out towards a plateau and is no leak. Priors
//       stand for what is known beforehand: the gauge's zero z ~ N(0, u_zero), ln tau_th ~
//       N(ln 1 s, 0.8) and b ~ N(0, 8 kPa) (common practice, no source). The results are averaged
//       with the models' Akaike weights (AICc; Burnham and Anderson, Model Selection, 2002, section
//       4.3), the spread between models being part of the uncertainty. Correlated residuals inflate
//       the covariance by (1+r)/(1-r), r their lag-1 correlation (AR(1), large-N limit).
// Cost  some forty iterations on 60 points, a few on kMostPoints: well under a millisecond.
#pragma once
#include <optional>
#include <span>
#include <string>

#include "decoders/method/uncertainty.hpp"

namespace airlatch {

struct DecayPoint {
  double time_s = 0;        // since the pump's stop
  double pressure_kpa = 0;  // mean of n readings
  double n = 1;
};

struct DecaySettings {
  double u_zero_kpa = 0.2;  // standard uncertainty of the gauge's zero
  double noise_kpa = 0;     // least standard deviation of one reading (its resolution)
  double drift_kpa_s = 0;   // standard uncertainty of a slope from ambient temperature drift
};

struct DecayFit {
  double window_start_s = 0;       // since the stop: the relaxation is over
  Uncertain pressure_kpa;          // at the window's start, without the relaxation's rest
  Uncertain slope_kpa_s;           // dp/dt there, of the leak alone
  std::optional<Uncertain> tau_s;  // where the decay can be exponential
  double hole_weight = 0;          // Akaike weight of the hole's law, 0 to 1
  double thermal_weight = 0;       // and of the models with relaxation
  double thermal_kpa = 0, thermal_tau_s = 0;  // of the best model with relaxation
  double residual_kpa = 0;                    // standard deviation of one reading
  double correlation = 0;                     // lag-1, of the averaged points
  [[nodiscard]] bool leaks() const;  // the slope is distinct from zero (two standard uncertainties)
  [[nodiscard]] double bound_kpa_s() const;  // 95 % upper bound of the slope's magnitude
};

constexpr std::size_t kMostPoints = 600;

// Nothing, with the reason in `why`, where fewer than 5 points or less than 1 s are there.
std::optional<DecayFit> fit_decay(std::span<const DecayPoint> points, const DecaySettings& settings,
                                  std::string& why);

}  // namespace airlatch
