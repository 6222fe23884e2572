// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/method/regression.hpp"

#include <algorithm>
#include <cmath>

namespace airlatch {

void LineAccumulator::add(double x, double y, double weight) {
  n_ += 1;
  weight_ += weight;
  const double part = weight / weight_;
  const double dx = x - mean_x_, dy = y - mean_y_;
  mean_x_ += part * dx;
  mean_y_ += part * dy;
  const double shrink = weight * (1 - part);
  xx_ += shrink * dx * dx;
  xy_ += shrink * dx * dy;
  yy_ += shrink * dy * dy;
}

void LineAccumulator::add(std::span<const double> x, std::span<const double> y) {
  if (x.empty()) return;
  const auto n = static_cast<double>(x.size());
  double sum_x = 0, sum_y = 0;
  for (const double v : x) sum_x += v;
  for (const double v : y) sum_y += v;
  const double mean_x = sum_x / n, mean_y = sum_y / n;
  double xx = 0, xy = 0, yy = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    const double dx = x[i] - mean_x, dy = y[i] - mean_y;
    xx += dx * dx;
    xy += dx * dy;
    yy += dy * dy;
  }
  add({n, mean_x, mean_y, xx, xy, yy});
}

void LineAccumulator::add(const Points& more) {
  const double total = weight_ + more.n, between = weight_ * more.n / total;
  const double dx = more.mean_x - mean_x_, dy = more.mean_y - mean_y_;
  xx_ += more.xx + between * dx * dx;
  xy_ += more.xy + between * dx * dy;
  yy_ += more.yy + between * dy * dy;
  mean_x_ += dx * more.n / total;
  mean_y_ += dy * more.n / total;
  weight_ = total;
  n_ += more.n;
}

double LineAccumulator::sd_x() const {
  return n_ > 1 ? std::sqrt(xx_ / weight_ * n_ / (n_ - 1)) : 0;
}
double LineAccumulator::sd_y() const {
  return n_ > 1 ? std::sqrt(yy_ / weight_ * n_ / (n_ - 1)) : 0;
}
double LineAccumulator::slope() const { return xy_ / xx_; }
double LineAccumulator::intercept() const { return mean_y_ - slope() * mean_x_; }

double LineAccumulator::residual_sd() const {
  if (n_ <= 2) return 0;
  const double left = std::max(0.0, yy_ - xy_ * xy_ / xx_);
  return std::sqrt(left / weight_ * n_ / (n_ - 2));
}

double LineAccumulator::u_slope() const { return residual_sd() * std::sqrt(weight_ / n_ / xx_); }

double LineAccumulator::u_intercept() const {
  return residual_sd() * std::sqrt(1 / n_ + mean_x_ * mean_x_ * weight_ / n_ / xx_);
}

double LineAccumulator::correlation() const {
  return -mean_x_ / std::sqrt(mean_x_ * mean_x_ + xx_ / weight_);
}

}  // namespace airlatch
