// SPDX-License-Identifier: GPL-3.0-or-later
// The SIMD registers against a plain loop over single samples.
#include "decoders/stream/summary.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "plugin/rehearse/random.hpp"

namespace airlatch {
namespace {

constexpr float kNaN = std::numeric_limits<float>::quiet_NaN();
constexpr float kInfinity = std::numeric_limits<float>::infinity();

std::vector<float> noise(std::size_t n, std::uint64_t seed) {
  Random random(seed);
  std::vector<float> values(n);
  for (float& v : values) v = static_cast<float>(3 + random.normal());
  return values;
}

TEST(Summary, ExtremesOfEveryLength) {
  for (std::size_t n = 1; n < 40; ++n) {
    const std::vector<float> values = noise(n, n);
    const Extremes all = extremes_of(values);
    EXPECT_EQ(all.least, *std::min_element(values.begin(), values.end())) << n;
    EXPECT_EQ(all.most, *std::max_element(values.begin(), values.end())) << n;
    EXPECT_TRUE(all.all_finite) << n;
  }
}

TEST(Summary, OneBadSampleAnywhereIsSeen) {
  for (const float bad : {kNaN, kInfinity, -kInfinity})
    for (std::size_t at = 0; at < 39; ++at) {
      std::vector<float> values = noise(at < 10 ? 10 : 39, at);
      values[at] = bad;
      const Extremes all = extremes_of(values);
      EXPECT_FALSE(all.all_finite) << bad << " at " << at;
      if (bad == kInfinity) {
        EXPECT_EQ(all.most, kInfinity);
      }
      if (bad == -kInfinity) {
        EXPECT_EQ(all.least, -kInfinity);
      }
      if (std::isnan(bad)) {
        EXPECT_LT(all.most, 20);
      }
    }
  const Extremes none = extremes_of(std::vector<float>(9, kNaN));
  EXPECT_GT(none.least, none.most);
}

TEST(Summary, DifferencesAndSumsAreThoseOfAPlainLoop) {
  for (const std::size_t n : {1U, 2U, 8U, 9U, 10U, 16U, 17U, 18U, 32U, 33U, 100U, 1003U}) {
    const std::vector<float> values = noise(n, n);
    double squares = 0, smallest = 1e300, total = 0, about = 0;
    for (std::size_t k = 0; k < n; ++k) {
      total += static_cast<double>(values[k]);
      about += std::pow(static_cast<double>(values[k]) - 2.5, 2);
      if (k == 0) continue;
      const double d = static_cast<double>(values[k]) - static_cast<double>(values[k - 1]);
      squares += std::min(d * d, 1.5);
      if (d != 0) smallest = std::min(smallest, std::abs(d));
    }
    // Squares are summed as floats: 2^-24 for each of the sums a lane makes.
    const Changes found = changes_of(values, 1.5F);
    EXPECT_NEAR(found.squares, squares, 1e-6 * static_cast<double>(n) * std::max(squares, 1.0));
    if (n > 1) {
      EXPECT_FLOAT_EQ(found.least, static_cast<float>(smallest));
    }
    EXPECT_NEAR(sum(values), total, 1e-12 * static_cast<double>(n) * 10);
    EXPECT_NEAR(squares_about(values, 2.5), about, 1e-11 * static_cast<double>(n));
  }
}

TEST(Summary, MomentsAreThoseOfAPlainLoop) {
  for (const std::size_t n : {0U, 1U, 3U, 4U, 5U, 101U}) {
    const std::vector<float> a = noise(n, n), b = noise(n, n + 1);
    Moments plain;
    for (std::size_t k = 0; k < n; ++k) {
      const auto x = static_cast<double>(a[k]), y = static_cast<double>(b[k]);
      plain = {plain.a + x, plain.b + y, plain.ab + x * y, plain.aa + x * x, plain.bb + y * y};
    }
    const Moments found = moments(a, b);
    EXPECT_NEAR(found.a, plain.a, 1e-11);
    EXPECT_NEAR(found.b, plain.b, 1e-11);
    EXPECT_NEAR(found.ab, plain.ab, 1e-10);
    EXPECT_NEAR(found.aa, plain.aa, 1e-10);
    EXPECT_NEAR(found.bb, plain.bb, 1e-10);
  }
}

// A voltage near 12 V with a millivolt of noise beside its own double: two passes over doubles know
// the spread to the last digits.
TEST(Summary, SpreadKeepsItsDigitsBesideALargeMean) {
  const std::vector<float> a = noise(400, 1), raw = noise(400, 2);
  std::vector<float> b(400);
  for (std::size_t k = 0; k < 400; ++k) b[k] = 12.3F + 1e-3F * raw[k] + 1e-3F * a[k];
  double mean_a = 0, mean_b = 0, aa = 0, ab = 0, bb = 0;
  for (std::size_t k = 0; k < 400; ++k) {
    mean_a += static_cast<double>(a[k]) / 400;
    mean_b += static_cast<double>(b[k]) / 400;
  }
  for (std::size_t k = 0; k < 400; ++k) {
    const double x = static_cast<double>(a[k]) - mean_a, y = static_cast<double>(b[k]) - mean_b;
    aa += x * x;
    ab += x * y;
    bb += y * y;
  }
  const Spread found = about_means(moments(a, b), 400);
  EXPECT_NEAR(found.mean_a, mean_a, 1e-12);
  EXPECT_NEAR(found.mean_b, mean_b, 1e-12);
  EXPECT_NEAR(found.aa / aa, 1, 1e-10);
  EXPECT_NEAR(found.ab / ab, 1, 1e-9);
  EXPECT_NEAR(found.bb / bb, 1, 1e-6);
}

TEST(Summary, WhatDoesNotMoveHasNoLeastChange) {
  EXPECT_EQ(changes_of(std::vector<float>(50, 4.0F), kInfinity).least, 0);
  EXPECT_EQ(changes_of(std::vector<float>(50, 4.0F), kInfinity).squares, 0);
}

TEST(Summary, SquaresBeyondAFloatAreStillRight) {
  const std::vector<float> values = {0, 1e30F, 0, 1e30F};
  EXPECT_NEAR(changes_of(values, kInfinity).squares / 3e60, 1, 1e-6);
}

}  // namespace
}  // namespace airlatch
