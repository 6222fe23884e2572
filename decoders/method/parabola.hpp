// SPDX-License-Identifier: GPL-3.0-or-later
// parabola.hpp: a parabola by least squares, or a straight line where no bend is told from the noise.
//
// In    points, any number, one pass; x of the order of 1.
// Out   value and slope at x = 0, and what the bend leaves uncertain in the value.
// How   normal equations of 1, x, x^2. A bend within twice its own uncertainty is left out, and what
//       it would have changed counts.
// Cost  O(1) memory.
#pragma once
#include <array>

namespace airlatch {

class Parabola {
 public:
  void add(double x, double y);
  [[nodiscard]] double n() const { return x_[0]; }
  struct Fit {
    double at_0 = 0, slope = 0;
    double bend = 0;    // of x^2
    double u_bend = 0;  // of at_0, for a bend that was left out
    bool bends = false;
  };
  // `noise`: standard deviation of one y, where the residuals do not show more. REQUIRES: n() >= 4 and
  // x not all equal.
  [[nodiscard]] Fit fit(double noise) const;

 private:
  std::array<double, 5> x_ = {};  // sums of powers of x
  std::array<double, 3> y_ = {};  // of y times powers of x
  double yy_ = 0;
};

}  // namespace airlatch
