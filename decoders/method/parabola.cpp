// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/method/parabola.hpp"

#include <algorithm>
#include <cmath>

namespace airlatch {
namespace {
constexpr double kTold = 2;  // of its uncertainty: a bend
}

void Parabola::add(double x, double y) {
  double power = 1;
  for (std::size_t k = 0; k < x_.size(); ++k) {
    x_[k] += power;
    if (k < y_.size()) y_[k] += power * y;
    power *= x;
  }
  yy_ += y * y;
}

Parabola::Fit Parabola::fit(double noise) const {
  const double n = x_[0], mean_x = x_[1] / n, mean_y = y_[0] / n;
  const double xx = x_[2] - n * mean_x * mean_x, xy = y_[1] - n * mean_x * mean_y;
  // x^2 less its own straight line: what is orthogonal to 1 and x.
  const double line_slope = (x_[3] - mean_x * x_[2]) / xx, line_0 = x_[2] / n - line_slope * mean_x;
  const double qq = x_[4] - line_0 * x_[2] - line_slope * x_[3];
  const double qy = y_[2] - line_0 * y_[0] - line_slope * y_[1];
  Fit fit;
  fit.slope = xy / xx;
  fit.at_0 = mean_y - fit.slope * mean_x;
  if (!(qq > 1e-12 * x_[4])) return fit;
  const double bend = qy / qq;
  const double left = yy_ - n * mean_y * mean_y - xy * fit.slope - qy * bend;
  const double sd = std::max(noise, std::sqrt(std::max(0.0, left) / std::max(1.0, n - 3)));
  const double u = sd / std::sqrt(qq);
  fit.bends = std::abs(bend) > kTold * u;
  if (!fit.bends) {
    fit.u_bend = std::abs(bend * line_0);
    return fit;
  }
  fit.bend = bend;
  fit.at_0 -= bend * line_0;
  fit.slope -= bend * line_slope;
  return fit;
}

}  // namespace airlatch
