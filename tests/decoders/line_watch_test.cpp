// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/line_watch.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <vector>

namespace airlatch {
namespace {

constexpr double kStep_s = 0.02;

NoiseModel white(double sd) {
  NoiseModel noise;
  noise.h0 = 2 * kStep_s * sd * sd;
  return noise;
}

// The movements of a curve with noise of sd a step.
template <class Curve>
std::vector<LineWatch::Movement> movements(Curve curve, double length_s, double sd,
                                           std::uint64_t seed, bool pumped = false) {
  std::mt19937_64 engine(seed);
  std::normal_distribution<double> normal(0, sd);
  LineWatch watch(kStep_s, pumped);
  watch.learn(white(sd));
  std::vector<LineWatch::Movement> out;
  for (double t_s = 0; t_s < length_s; t_s += kStep_s)
    if (const auto moved = watch.add(t_s, curve(t_s) + normal(engine))) out.push_back(*moved);
  return out;
}

TEST(LineWatch, WhatSlowsDownIsLeftAlone) {
  for (std::uint64_t seed = 0; seed < 40; ++seed) {
    const double tau_s = 1 + static_cast<double>(seed);
    EXPECT_TRUE(
        movements([&](double t) { return 40 * std::exp(-t / tau_s); }, 30, 0.02, seed).empty());
    EXPECT_TRUE(
        movements([&](double t) { return -30 - 3 * std::exp(-t / 0.4); }, 30, 0.02, seed).empty());
    EXPECT_TRUE(
        movements([&](double t) { return 30 - 3 * std::exp(-t / 0.7); }, 30, 0.02, seed).empty());
  }
}

TEST(LineWatch, StepsKinksAndStrokesAreMovements) {
  for (std::uint64_t seed = 0; seed < 20; ++seed) {
    // A door pulled by hand: 1 kPa in a tenth of a second.
    const auto door = [](double t) { return 40 - 0.01 * t - std::clamp(10 * (t - 5), 0.0, 1.0); };
    const auto pulled = movements(door, 10, 0.05, seed);
    ASSERT_FALSE(pulled.empty());
    EXPECT_NEAR(pulled.front().since_s, 5, 0.4);
    EXPECT_LE(pulled.front().since_s, 5.1);
    EXPECT_FALSE(pulled.front().stroke);
    // A valve that opens after a hold.
    const auto valve = [](double t) { return t < 5 ? 40.0 : 40 * std::exp(-(t - 5) / 0.5); };
    EXPECT_FALSE(movements(valve, 10, 0.05, seed).empty());
    const auto stroke = [](double t) { return 20 + std::clamp(20 * (t - 5), 0.0, 10.0); };
    const auto pumped = movements(stroke, 10, 0.05, seed, true);
    ASSERT_FALSE(pumped.empty());
    EXPECT_TRUE(pumped.front().stroke);
  }
}

TEST(LineWatch, AShortPauseHidesNoMovement) {
  LineWatch watch(kStep_s, false);
  watch.learn(white(0.05));
  bool moved = false;
  for (double t_s = 0; t_s < 10; t_s += kStep_s) {
    if (t_s > 4.8 && t_s < 5.3) continue;
    moved = watch.add(t_s, t_s < 5 ? 40 : 40 - 8 * (t_s - 5)).has_value() || moved;
  }
  EXPECT_TRUE(moved);
}

}  // namespace
}  // namespace airlatch
