// SPDX-License-Identifier: GPL-3.0-or-later
// decay_fit.hpp: how fast a closed line loses its pressure, told from warmth that leaves it.
//
// In    averaged pressure points since the line was closed; the channel's noise; what is known of the
//       gauge's zero and of the line's temperature.
// Out   at the window's start: the gauge pressure, warmth included, and the slope and time constant of
//       the leak alone, each with its standard uncertainty.
// How   four laws with two relaxations each (method/decay_models), fitted by generalised least squares
//       with the noise's covariance (method/noise_model), and averaged with their Akaike weights
//       (Burnham and Anderson, Model Selection, 2002, section 4.3; all have as many parameters), the
//       spread between them being part of the uncertainty. Smooth random courses (Matern 3/2: Rasmussen
//       and Williams, Gaussian Processes, 2006, 4.2.1) stand for the line's temperature, whose slope and
//       size are given, and for a law that fits to 0.3 % of the slope along one decay; a third
//       relaxation of 5 s (a fifth of a longer watch), N(0, 0.03 kPa), for what is slower than the
//       two. What no law fits widens all in proportion (reduced chi squared; Birge 1932), and then the
//       laws' spread counts by itself; 1 % of the slope is added for the law (all common practice, no
//       source). The window starts where the slope is known best, once the warmth that still leaves
//       moves the line by less than that.
// Cost  one Cholesky factor and four fits of some 70 points: about a millisecond.
#pragma once
#include <optional>
#include <span>
#include <string>

#include "decoders/method/noise_model.hpp"
#include "decoders/method/uncertainty.hpp"

namespace airlatch {

struct DecayPoint {
  double time_s = 0;        // since the line was closed; the mean of its readings' instants
  double pressure_kpa = 0;  // mean of n readings
  double n = 1;
};

struct DecaySettings {
  std::optional<NoiseModel> noise = {};   // none: assumed, its size from the residuals
  double period_s = 0;                    // of the readings; 0: of the points
  double u_zero_kpa = 0.2;                // standard uncertainty of the gauge's zero
  double drift_kpa_s = 0, drift_kpa = 0;  // of the temperature's part: of its slope, of its size
  // Hidden by a coarse converter: standard deviation, and for how long it is the same.
  double hidden_kpa = 0, hidden_s = 1;
};

struct DecayFit {
  double window_start_s = 0, window_end_s = 0;  // since the line was closed
  Uncertain pressure_kpa;            // at the window's start, as a gauge shows it
  double moving_kpa_s = 0;           // dp/dt there, warmth included
  Uncertain slope_kpa_s;             // dp/dt there, of the leak alone
  std::optional<Uncertain> tau_s;    // pressure over slope, where the leak is no hole
  double hole_weight = 0;            // Akaike weight of the hole's law, 0 to 1
  double warmth_kpa = 0;             // what is left of the relaxations at the window's start
  double misfit = 1;                 // chi squared over its degrees of freedom
  [[nodiscard]] bool leaks() const;  // the slope is distinct from zero (two standard uncertainties)
  [[nodiscard]] double bound_kpa_s() const;  // 95 % upper bound of the slope's magnitude
};

// Nothing, with the reason in `why`, where fewer than 5 points or less than 0.3 s are there.
std::optional<DecayFit> fit_decay(std::span<const DecayPoint> points, const DecaySettings& settings,
                                  std::string& why);

}  // namespace airlatch
