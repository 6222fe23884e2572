// SPDX-License-Identifier: GPL-3.0-or-later
// hole_decay.hpp: how a closed volume empties (or fills) through one small hole.
//
// In    gauge pressure at the start, and a rate.
// Out   the gauge pressure later, and its derivatives.
// How   ideal orifice (de Saint-Venant and Wantzel; method/air), or a short passage with friction, whose
//       critical pressure ratio is lower (ISO 6358-1: sonic conductance and b); isothermal, V dp/dt =
//       -Q. All such decays are pieces of one curve: the time it takes from a pressure to ambient, as a function
//       of that pressure. It is integrated once (Gauss-Legendre, on the root of the pressure, which
//       makes the square-root law near ambient smooth) and read off by cubic Hermite interpolation.
// Cost  one table of kPoints a side, then a few steps along it a value.
#pragma once
#include <cstddef>
#include <vector>

namespace airlatch {

class HoleDecay {
 public:
  enum class Shape { kIdeal, kPassage };
  // Of fittings and short tubes: 0.2 to 0.4 (common practice, no source).
  static constexpr double kPassage_b = 0.3;
  // The curve of one side: air leaves a line above ambient, or enters one below it.
  static const HoleDecay& above_ambient(Shape shape = Shape::kIdeal);
  static const HoleDecay& below_ambient(Shape shape = Shape::kIdeal);

  struct State {
    double gauge_kpa = 0;
    double by_start = 0;   // d gauge / d start
    double by_rate_s = 0;  // d gauge / d rate, kPa s
  };
  // A decay from `start_kpa`. `rate_per_s` is the volume flow of the choked hole over the volume.
  // Any sign of either: a rate below zero fills.
  class From {
   public:
    // t seconds after the start; quick where t is near the last one asked for.
    State at(double t_s);

   private:
    friend class HoleDecay;
    const HoleDecay* curve_ = nullptr;
    double start_kpa_ = 0, rate_per_s_ = 0;
    double to_ambient_ = 0, flow_ = 0;  // at the start
    std::size_t last_ = 0;              // entry of the table
  };
  [[nodiscard]] From from(double start_kpa, double rate_per_s) const;
  [[nodiscard]] State at(double start_kpa, double rate_per_s, double t_s) const {
    return from(start_kpa, rate_per_s).at(t_s);
  }
  // dp/dt at a gauge pressure, kPa/s; exact.
  [[nodiscard]] double slope_kpa_s(double gauge_kpa, double rate_per_s) const;

 private:
  static constexpr int kPoints = 1024;
  HoleDecay(bool above, Shape shape);
  [[nodiscard]] double flow_kpa(double gauge_magnitude_kpa) const;
  [[nodiscard]] double to_ambient(double root) const;

  Shape shape_;
  double side_, step_;          // of the root of the pressure, sqrt kPa
  std::vector<double> time_;    // to ambient, in units of 1 / rate
  std::vector<double> d_root_;  // d root / d time
};

}  // namespace airlatch
