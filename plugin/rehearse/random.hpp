// SPDX-License-Identifier: GPL-3.0-or-later
// random.hpp: random numbers that are the same with every library: splitmix64 (Steele, Lea and
// Flood, OOPSLA 2014), and normal ones by Box and Muller.
#pragma once
#include <cmath>
#include <cstdint>
#include <numbers>

#include "decoders/method/elementary.hpp"

namespace airlatch {

class Random {
 public:
  explicit Random(std::uint64_t seed) : state_(seed) {}
  std::uint64_t bits() {
    std::uint64_t z = (state_ += 0x9e3779b97f4a7c15ULL);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
    return z ^ (z >> 31);
  }
  double uniform() { return static_cast<double>(bits() >> 11) * 0x1.0p-53; }  // [0, 1)
  double uniform(double low, double high) { return low + (high - low) * uniform(); }
  double normal() {
    if (spare_) {
      spare_ = false;
      return kept_;
    }
    const double r = std::sqrt(-2 * elementary::log(1 - uniform()));
    const double angle = 2 * std::numbers::pi * uniform();
    kept_ = r * elementary::sin(angle);
    spare_ = true;
    return r * elementary::cos(angle);
  }

 private:
  std::uint64_t state_;
  double kept_ = 0;
  bool spare_ = false;
};

}  // namespace airlatch
