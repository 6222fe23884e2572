// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/method/parabola.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace airlatch {
namespace {

TEST(Parabola, OfExactPoints) {
  Parabola curve;
  for (int k = 0; k <= 10; ++k) {
    const double x = -0.1 * k;
    curve.add(x, 40 + 3 * x - 2 * x * x);
  }
  const auto fit = curve.fit(1e-6);
  EXPECT_TRUE(fit.bends);
  EXPECT_NEAR(fit.at_0, 40, 1e-9);
  EXPECT_NEAR(fit.slope, 3, 1e-9);
  EXPECT_NEAR(fit.bend, -2, 1e-9);
}

// A bend within the noise is left out, and the value's error stays within what is said of it.
TEST(Parabola, ABendInTheNoiseCounts) {
  int held = 0;
  constexpr int kTrials = 400, kPoints = 50;
  for (int trial = 0; trial < kTrials; ++trial) {
    std::mt19937_64 engine(static_cast<std::uint64_t>(trial));
    std::normal_distribution<double> normal(0, 0.05);
    Parabola curve;
    for (int k = 0; k < kPoints; ++k) {
      const double x = -(k + 0.5) / kPoints;
      curve.add(x, 40 + 3 * x - 0.05 * x * x + normal(engine));
    }
    const auto fit = curve.fit(0.05);
    const double u = std::hypot((fit.bends ? 3 : 2) * 0.05 / std::sqrt(kPoints), fit.u_bend);
    held += std::abs(fit.at_0 - 40) <= 2 * u;
  }
  EXPECT_GE(held, 0.92 * kTrials);
}

}  // namespace
}  // namespace airlatch
