// SPDX-License-Identifier: GPL-3.0-or-later
// regression.hpp: the straight line by least squares, one pass, any number of points.
//
// How   sums of squares and products about the running means (Chan, Golub and LeVeque's updating
//       formulas), so that a large offset does not drown a small spread; standard uncertainties of
//       slope and intercept and their correlation as in JCGM 100 H.3.
// Cost  O(1) memory, a dozen operations a point.
#pragma once
#include <span>

namespace airlatch {

// y = intercept + slope * x, with equal uncertainties of y, or weighted.
class LineAccumulator {
 public:
  void add(double x, double y, double weight = 1);
  // Many points of weight 1 at once: two passes over them, then joined (the same authors' pairwise
  // formulas). REQUIRES: as many x as y.
  void add(std::span<const double> x, std::span<const double> y);
  // n points of weight 1 by their means and the sums of squares and products about them.
  struct Points {
    double n = 0, mean_x = 0, mean_y = 0, xx = 0, xy = 0, yy = 0;
  };
  void add(const Points& more);
  [[nodiscard]] double n() const { return n_; }
  [[nodiscard]] double mean_x() const { return mean_x_; }
  [[nodiscard]] double mean_y() const { return mean_y_; }
  [[nodiscard]] double sd_x() const;  // of one point, n - 1
  [[nodiscard]] double sd_y() const;
  // REQUIRES: n() >= 2 and x not all equal.
  [[nodiscard]] double slope() const;
  [[nodiscard]] double intercept() const;
  // Residual standard deviation with n - 2 degrees of freedom; 0 for n <= 2.
  [[nodiscard]] double residual_sd() const;
  [[nodiscard]] double u_slope() const;
  [[nodiscard]] double u_intercept() const;
  [[nodiscard]] double correlation() const;  // of intercept and slope

 private:
  double n_ = 0, weight_ = 0, mean_x_ = 0, mean_y_ = 0, xx_ = 0, xy_ = 0, yy_ = 0;
};

}  // namespace airlatch
