// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/method/hole_decay.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "decoders/method/air.hpp"

namespace airlatch {
namespace {
constexpr double kMostAbove_kpa = 400, kMostBelow_kpa = kAtmosphere_pa / 1000;
}  // namespace

const HoleDecay& HoleDecay::above_ambient(Shape shape) {
  static const HoleDecay ideal(true, Shape::kIdeal), passage(true, Shape::kPassage);
  return shape == Shape::kIdeal ? ideal : passage;
}

const HoleDecay& HoleDecay::below_ambient(Shape shape) {
  static const HoleDecay ideal(false, Shape::kIdeal), passage(false, Shape::kPassage);
  return shape == Shape::kIdeal ? ideal : passage;
}

// Volume flow at the line's own temperature, over the choked one: times a pressure, so that
// dp/dt = -rate * flow.
double HoleDecay::flow_kpa(double gauge_magnitude_kpa) const {
  const double inside_pa = kAtmosphere_pa + side_ * 1000 * std::max(gauge_magnitude_kpa, 0.0);
  const double up_pa = std::max(inside_pa, kAtmosphere_pa);
  const double down_pa = std::max(0.0, std::min(inside_pa, kAtmosphere_pa));
  constexpr double kAnyTemperature_k = 293.15;
  const auto flow = [this](double from_pa, double to_pa) {
    return shape_ == Shape::kIdeal
               ? orifice_mass_flow(1, from_pa, to_pa, kAnyTemperature_k)
               : iso6358_mass_flow(1, kPassage_b, from_pa, to_pa, kAnyTemperature_k);
  };
  return kAtmosphere_pa / 1000 * flow(up_pa, down_pa) / flow(kAtmosphere_pa, 0);
}

HoleDecay::HoleDecay(bool above, Shape shape)
    : shape_(shape),
      side_(above ? 1 : -1),
      step_(std::sqrt(above ? kMostAbove_kpa : kMostBelow_kpa) / kPoints),
      time_(kPoints + 1, 0),
      d_root_(kPoints + 1, 0) {
  // Three-point Gauss-Legendre a step; dt = 2 root d(root) / flow(root^2).
  constexpr std::array<double, 3> kNode = {-0.7745966692414834, 0, 0.7745966692414834};
  constexpr std::array<double, 3> kWeight = {5.0 / 9, 8.0 / 9, 5.0 / 9};
  for (std::size_t k = 0; k < kPoints; ++k) {
    const double middle = (static_cast<double>(k) + 0.5) * step_;
    double sum = 0;
    for (std::size_t i = 0; i < 3; ++i) {
      const double root = middle + 0.5 * step_ * kNode[i];
      sum += kWeight[i] * 2 * root / flow_kpa(root * root);
    }
    time_[k + 1] = time_[k] + 0.5 * step_ * sum;
    const double root = static_cast<double>(k + 1) * step_;
    d_root_[k + 1] = flow_kpa(root * root) / (2 * root);
  }
  d_root_[0] = 2 * d_root_[1] - d_root_[2];
}

double HoleDecay::to_ambient(double root) const {
  const double at = root / step_;
  const auto k = static_cast<std::size_t>(std::clamp(at, 0.0, kPoints - 1.0));
  const double x = at - static_cast<double>(k);
  if (x > 1) return time_.back() + (root - step_ * kPoints) / d_root_.back();
  // Hermite on time as a function of root.
  const double t0 = time_[k], t1 = time_[k + 1];
  const double m0 = step_ / d_root_[k], m1 = step_ / d_root_[k + 1];
  const double x2 = x * x, x3 = x2 * x;
  return (2 * x3 - 3 * x2 + 1) * t0 + (x3 - 2 * x2 + x) * m0 + (-2 * x3 + 3 * x2) * t1 +
         (x3 - x2) * m1;
}

HoleDecay::From HoleDecay::from(double start_kpa, double rate_per_s) const {
  From from;
  from.curve_ = this;
  from.start_kpa_ = start_kpa;
  from.rate_per_s_ = rate_per_s;
  const double magnitude = side_ * start_kpa;
  if (!(magnitude > 0)) return from;
  const double root = std::sqrt(magnitude);
  from.to_ambient_ = to_ambient(root);
  from.last_ = static_cast<std::size_t>(std::clamp(root / step_, 0.0, kPoints - 1.0));
  from.flow_ = flow_kpa(magnitude);
  return from;
}

HoleDecay::State HoleDecay::From::at(double t_s) {
  const double side = curve_->side_, step = curve_->step_;
  const std::vector<double>&time = curve_->time_, &slope = curve_->d_root_;
  if (!(side * start_kpa_ > 0)) return {start_kpa_, 1, 0};  // beyond ambient: no such decay
  const double left = to_ambient_ - rate_per_s_ * t_s;
  if (!(left > 0)) return {0, 0, 0};  // all gone
  double root = 0, d_root = 0;
  if (left >= time.back()) {
    d_root = slope.back();
    root = step * kPoints + (left - time.back()) * d_root;
  } else {
    std::size_t k = last_;
    while (time[k] > left) --k;
    while (time[k + 1] <= left) ++k;
    last_ = k;
    const double h = time[k + 1] - time[k], x = (left - time[k]) / h;
    const double r0 = static_cast<double>(k) * step, r1 = r0 + step;
    const double m0 = h * slope[k], m1 = h * slope[k + 1];
    const double x2 = x * x, x3 = x2 * x;
    root = (2 * x3 - 3 * x2 + 1) * r0 + (x3 - 2 * x2 + x) * m0 + (-2 * x3 + 3 * x2) * r1 +
           (x3 - x2) * m1;
    d_root = ((6 * x2 - 6 * x) * (r0 - r1) + (3 * x2 - 4 * x + 1) * m0 + (3 * x2 - 2 * x) * m1) / h;
  }
  const double flow = 2 * root * d_root;
  return {side * root * root, flow / flow_, -side * flow * t_s};
}

double HoleDecay::slope_kpa_s(double gauge_kpa, double rate_per_s) const {
  const double magnitude = side_ * gauge_kpa;
  return magnitude > 0 ? -side_ * rate_per_s * flow_kpa(magnitude) : 0;
}

}  // namespace airlatch
