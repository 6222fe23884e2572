// SPDX-License-Identifier: GPL-3.0-or-later
// linear_step.hpp: linear least squares, plain or damped: a step of a fit.
//
// In    J step = -r: J has a row a point and a column a parameter, one column after the other.
// Out   the step; the inverse of J' J, which times the residual variance is the covariance.
// How   the columns, scaled to unit length, become a triangle by Householder reflections (Golub and
//       Van Loan, Matrix Computations, algorithm 5.2.1); damping adds rows to it (Marquardt, J.
//       SIAM 11 (1963) 431). REQUIRES: at least as many points as parameters.
// Cost  2 points x parameters^2 operations; each damping that is tried 4 parameters^3.
#pragma once
#include <cstddef>
#include <span>
#include <vector>

namespace airlatch {

class LinearStep {
 public:
  LinearStep(std::size_t points, std::size_t parameters);
  void take(std::span<const double> J, std::span<const double> r);
  // Of what was taken. Squared length of the whole step over the parameters' standard
  // uncertainties, for unit residual variance.
  [[nodiscard]] double offset2() const;
  void damped(double damping, std::span<double> step);

 private:
  std::size_t n_, k_;
  std::vector<double> all_;     // n rows, k + 1 columns: J, -r; then their triangle
  std::vector<double> small_;   // 2 k rows, k + 1 columns: the damped one
  std::vector<double> length_;  // of J's columns
};

// (J' J)^-1, k by k.
void inverse_of(std::span<const double> J, std::size_t points, std::span<double> inverse);

}  // namespace airlatch
