// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/method/spectrum.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>

namespace airlatch {
namespace {

std::vector<double> tone(double hz, double amplitude, double rate_hz, std::size_t n, double noise,
                         std::uint64_t seed) {
  std::mt19937_64 engine(seed);
  std::normal_distribution<double> normal(0, 1);
  std::vector<double> out(n);
  for (std::size_t k = 0; k < n; ++k)
    out[k] =
        3 +
        amplitude * std::sin(2 * std::numbers::pi * hz * static_cast<double>(k) / rate_hz + 0.3) +
        noise * normal(engine);
  return out;
}

TEST(Spectrum, BetweenTheBins) {
  // 0.2 s at 20 kS/s: bins of 5 Hz. Hann-window interpolation is exact for one pure tone.
  for (const double hz : {500.0, 501.3, 502.5, 1233.7}) {
    const auto line = strongest_line(tone(hz, 0.1, 20000, 4000, 0, 1), 20000, 100, 3000);
    ASSERT_TRUE(line) << hz;
    EXPECT_NEAR(line->frequency_hz.value, hz, 0.02) << hz;
    EXPECT_NEAR(line->amplitude, 0.1, 0.002);
  }
}

// Cramer-Rao bound of a tone in white noise (Rife and Boorstyn 1974): the stated uncertainty must
// hold it, and the errors must hold the stated uncertainty.
TEST(Spectrum, UncertaintyHolds) {
  int covered = 0;
  const int trials = 200;
  double mean_ratio = 0;
  const double bound_hz =
      std::sqrt(12 / (std::pow(0.1 / 0.05, 2) / 2 * 4000.0 * (4000.0 * 4000.0 - 1))) * 20000 /
      (2 * std::numbers::pi);
  for (int k = 0; k < trials; ++k) {
    const double hz = 700 + 0.37 * k;
    const auto line = strongest_line(
        tone(hz, 0.1, 20000, 4000, 0.05, static_cast<std::uint64_t>(k)), 20000, 100, 3000);
    ASSERT_TRUE(line);
    mean_ratio += line->frequency_hz.u / bound_hz / trials;
    covered += std::abs(line->frequency_hz.value - hz) <= 2 * line->frequency_hz.u;
  }
  EXPECT_NEAR(mean_ratio, std::sqrt(2.343), 0.08);  // the Hann window's loss
  EXPECT_GE(covered, 182);  // 91 % of 200: three standard deviations below 95 %
}

TEST(Spectrum, AmplitudeAtAKnownFrequency) {
  const auto found = amplitude_at(tone(51.7, 0.08, 20000, 4000, 0.05, 3), 20000, 51.7);
  ASSERT_TRUE(found);
  EXPECT_NEAR(found->value, 0.08, 3 * found->u);
  EXPECT_LT(found->u, 0.005);
  const auto none = amplitude_at(tone(1, 0, 20000, 4000, 0.05, 4), 20000, 51.7);
  EXPECT_LT(none->value, 4 * none->u);
  EXPECT_FALSE(amplitude_at(tone(1, 0, 20000, 4000, 0.05, 4), 20000, 15));  // three periods only
}

TEST(Spectrum, NoiseHasNoLine) {
  for (std::uint64_t seed = 0; seed < 200; ++seed)
    EXPECT_FALSE(strongest_line(tone(1, 0, 20000, 4000, 0.05, seed), 20000, 100, 3000));
}

}  // namespace
}  // namespace airlatch
