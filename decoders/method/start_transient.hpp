// SPDX-License-Identifier: GPL-3.0-or-later
// start_transient.hpp: the inrush of a motor from samples that are too far apart to show it.
//
// In    times and currents around the start; noise of one reading; an interval that holds the
//       start.
// Out   the 10 % instant of the rise (IEEE Std 181) and the inrush peak.
// How   a PM motor that starts from rest draws a sum of two exponentials, the winding's and the
//       rotor's (u = R i + L di/dt + k w, J dw/dt = k i - load):
//         i(x) = c (1 - exp(-p x)) + a (exp(-p x) - exp(-q x)),  x = t - start,
//       fitted by least squares (method/nonlinear_fit). The shape of the later samples shows what a
//       straight line between two samples cannot: at 1 kS/s the rise lies between two samples. Where
//       the instrument averages over its interval, the course's mean over it takes its place. The
//       logarithm of the winding's time constant has a prior, N(ln 0.5 ms, 0.6).
// Cost  six fits of at most a few dozen points.
#pragma once
#include <optional>
#include <vector>

#include "decoders/method/uncertainty.hpp"

namespace airlatch {

struct StartTransient {
  Uncertain start_s;  // where the current passes 10 % of its peak
  Uncertain peak;     // A
  double peak_s = 0;
  double misfit = 0;  // weighted sum of squared residuals
};

// Nothing where the samples do not follow such a course (contact bounce, a locked rotor), are too few,
// or do not determine it (a rectangle). `mean_s`: each sample is the mean over that long about its
// instant. `ripple` is the commutator's share of the current, which is no noise of the meter.
std::optional<StartTransient> fit_start_transient(const std::vector<double>& times_s,
                                                  const std::vector<double>& currents_a,
                                                  double noise_a, double earliest_s,
                                                  double latest_s, double mean_s = 0,
                                                  double ripple = 0.02);

}  // namespace airlatch
