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

  SampleClock clock;
  std::vector<float> values;

 private:
  double now_s_ = 0, last_ = 0;
};

}  // namespace airlatch::test
