// SPDX-License-Identifier: GPL-3.0-or-later
// Against the closed form of a fuse's melting: quick overloads leave no time for heat to leave, and
// it opens when the integral of (I / rating)^2 reaches a constant K, in seconds.
#include "plugin/live/fuse_watch.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <limits>

namespace airlatch {
namespace {

constexpr double kRating_a = 15;
constexpr double kReading_s = 1e-3;
// The least K that the standard allows: at 1.35 of its rating a fuse holds for 0.75 s.
constexpr double kLeastK_s = 1.35 * 1.35 * 0.75;

// When the watch warns of a current that is `share(t)` of the rating; infinity: not within `until_s`.
double warned_s(const std::function<double(double)>& share, double until_s) {
  FuseWatch watch(kRating_a);
  for (int n = 0; n * kReading_s < until_s; ++n)
    if (watch.warns(share(n * kReading_s) * kRating_a, 100 + n * kReading_s)) return n * kReading_s;
  return std::numeric_limits<double>::infinity();
}

TEST(FuseWatch, WarnsBeforeTheQuickestFuseOpensAtAnySteadyCurrent) {
  for (double share = 1.35; share <= 6; share += 0.05) {
    const double opens_s = kLeastK_s / (share * share);
    EXPECT_LT(warned_s([&](double) { return share; }, 10), opens_s) << share;
    EXPECT_LT(warned_s([&](double) { return -share; }, 10), opens_s) << -share;
  }
}

TEST(FuseWatch, WarnsAtHalfTheShortestTimeAndNoSooner) {
  // Shortest times of the tested currents themselves.
  for (const auto& [share, not_before_s] :
       {std::pair{1.35, 0.75}, {1.6, 0.25}, {2.0, 0.15}, {3.5, 0.08}, {6.0, 0.03}})
    EXPECT_NEAR(warned_s([&](double) { return share; }, 10), 0.5 * not_before_s, 1.5 * kReading_s)
        << share;
}

TEST(FuseWatch, WarnsBeforeItOpensWhenTheCurrentRises) {
  // share = 1 + r t, so that the integral is ((1 + r t)^3 - 1) / (3 r).
  for (const double per_s : {0.5, 1.0, 2.0, 5.0, 20.0}) {
    const double t_s = warned_s([&](double t) { return 1 + per_s * t; }, 10);
    const double reached = 1 + per_s * t_s;
    EXPECT_LT((reached * reached * reached - 1) / (3 * per_s), kLeastK_s) << per_s;
    EXPECT_GT(reached, 1.35) << per_s;
  }
}

TEST(FuseWatch, ACurrentThatTheFuseMayCarryForEverIsNoWarning) {
  EXPECT_GT(warned_s([](double) { return 1.34; }, 1000), 1000);
  // Short pulses: each ends before its half time.
  EXPECT_GT(warned_s([](double t) { return t - std::floor(t) < 0.05 ? 2.0 : 0.5; }, 100), 100);
  FuseWatch none(0);
  for (int n = 0; n < 100; ++n) EXPECT_FALSE(none.warns(1000, n));
}

TEST(FuseWatch, WarnsAgainAsLongAsTheCurrentStays) {
  FuseWatch watch(kRating_a);
  int warnings = 0;
  for (int n = 0; n < 1000; ++n) warnings += watch.warns(2 * kRating_a, n * kReading_s);
  EXPECT_GE(warnings, 12);  // every 75 ms of a second
  EXPECT_LE(warnings, 14);
}

}  // namespace
}  // namespace airlatch
