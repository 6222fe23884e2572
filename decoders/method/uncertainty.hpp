// SPDX-License-Identifier: GPL-3.0-or-later
// uncertainty.hpp: small rules of JCGM 100 used everywhere.
#pragma once
#include <cmath>

namespace airlatch {

// A value with its standard uncertainty (JCGM 100, k = 1), both in the same unit.
struct Uncertain {
  double value = 0;
  double u = 0;
};

// Standard uncertainty of a quantity known to lie in an interval of this full width (JCGM 100
// 4.3.7: half-width / sqrt 3).
inline double u_of_width(double width) { return std::abs(width) / std::sqrt(12.0); }

// Combined standard uncertainty of independent contributions (JCGM 100 5.1.2).
double combine(double u1, double u2, double u3 = 0, double u4 = 0);

}  // namespace airlatch
