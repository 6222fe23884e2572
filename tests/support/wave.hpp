// SPDX-License-Identifier: GPL-3.0-or-later
// wave.hpp: waves of straight lines with known crossings, as one channel's samples.
#pragma once
#include <cmath>
#include <cstdint>
#include <random>
#include <vector>

#include "decoders/stream/sample_block.hpp"

namespace airlatch::test {

// hold(v, t): stay at v until t; line(v, t): straight to v at t. A sample at t belongs to what
// follows t, so that a step from hold(0, 1) to hold(4, 2) lies just before the sample at 1 s.
class Wave {
 public:
  explicit Wave(std::int64_t rate_hz) : clock(SampleClock::of_rate(rate_hz)) {}
  Wave& hold(double v, double until_s) {
    last_ = v;
    return line(v, until_s);
  }
  Wave& line(double v, double until_s) {
    const double from_s = now_s_, from = last_;
    while (true) {
      const double t_s = static_cast<double>(clock.time_ns(std::ssize(values))) * 1e-9;
      if (t_s >= until_s - 1e-12) break;
      const double part = until_s > from_s ? (t_s - from_s) / (until_s - from_s) : 1;
      // hold(infinity) is a sensor's overload.
      values.push_back(static_cast<float>(from == v ? v : from + part * (v - from)));
    }
    now_s_ = until_s;
    last_ = v;
    return *this;
  }
  // Follows f(t - t of now) until `until_s`.
  template <class F>
  Wave& curve(F f, double until_s) {
    const double from_s = now_s_;
    while (true) {
      const double t_s = static_cast<double>(clock.time_ns(std::ssize(values))) * 1e-9;
      if (t_s >= until_s - 1e-12) break;
      values.push_back(static_cast<float>(f(t_s - from_s)));
    }
    now_s_ = until_s;
    last_ = f(until_s - from_s);
    return *this;
  }
  Wave& noise(double sd, std::uint64_t seed) {
    std::mt19937_64 engine(seed);
    std::normal_distribution<double> normal(0, sd);
    for (float& v : values) v = static_cast<float>(static_cast<double>(v) + normal(engine));
    return *this;
  }

  // Flicker noise: relaxations an octave apart, of the same variance, sum up to a spectrum of 1/f.
  Wave& flicker(double sd, std::uint64_t seed) {
    constexpr int kOctaves = 16;
    std::mt19937_64 engine(seed);
    std::normal_distribution<double> normal(0, 1);
    double state[kOctaves], keep[kOctaves];
    for (int o = 0; o < kOctaves; ++o) {
      state[o] = normal(engine);
      keep[o] = std::exp(-clock.period_s() / (0.002 * std::exp2(o)));
    }
    for (float& v : values) {
      double sum = 0;
      for (int o = 0; o < kOctaves; ++o) {
        state[o] = keep[o] * state[o] + std::sqrt(1 - keep[o] * keep[o]) * normal(engine);
        sum += state[o];
      }
      v = static_cast<float>(static_cast<double>(v) + sd / std::sqrt(kOctaves) * sum);
    }
    return *this;
  }
  Wave& hum(double amplitude, double hz, double turn) {
    for (std::size_t k = 0; k < values.size(); ++k) {
      const double t_s = static_cast<double>(clock.time_ns(static_cast<std::int64_t>(k))) * 1e-9;
      values[k] += static_cast<float>(amplitude * std::sin(6.283185307 * hz * t_s + turn));
    }
    return *this;
  }

  SampleClock clock;
  std::vector<float> values;

 private:
  double now_s_ = 0, last_ = 0;
};

}  // namespace airlatch::test
