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
