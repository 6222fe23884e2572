// SPDX-License-Identifier: GPL-3.0-or-later
// Lost samples and stretches at the limit, of channels at 100 samples a second.
#include "plugin/rehearse/instrument_faults.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "tests/support/decode.hpp"

namespace airlatch {
namespace {
using namespace test;

const SampleClock kClock = SampleClock::of_rate(100);

std::vector<SensorChannel> channels(std::size_t samples) {
  return {{"line_kpa", Role::LINE_PRESSURE, std::vector<float>(samples, 7.0F)},
          {"motor_a", Role::MOTOR_CURRENT, std::vector<float>(samples, 1.0F)}};
}

TEST(InstrumentFaults, GapIsMissingInEveryChannel) {
  auto recorded = channels(400);
  const auto truth = lose_samples({.gap_at_s = 1.5, .gap_s = 0.5}, kClock, recorded);
  for (const SensorChannel& channel : recorded)
    for (std::size_t k = 0; k < 400; ++k)
      EXPECT_EQ(std::isnan(channel.values[k]), k >= 150 && k < 200) << channel.name << ' ' << k;
  ASSERT_EQ(truth.size(), 1U);
  EXPECT_EQ(truth[0].kind, Kind::GAP);
  EXPECT_NEAR(truth[0].time_s, 1.5, 1e-9);
  EXPECT_NEAR(measure(truth[0], "duration"), 0.5, 1e-9);
}

// Between two samples nothing is lost: the first missing one is the next.
TEST(InstrumentFaults, GapBeginsWithASample) {
  auto recorded = channels(400);
  const auto truth = lose_samples({.gap_at_s = 1.504, .gap_s = 0.012}, kClock, recorded);
  EXPECT_FALSE(std::isnan(recorded[0].values[150]));
  EXPECT_TRUE(std::isnan(recorded[0].values[151]));
  EXPECT_FALSE(std::isnan(recorded[0].values[152]));
  EXPECT_NEAR(truth.at(0).time_s, 1.51, 1e-9);
  EXPECT_NEAR(measure(truth.at(0), "duration"), 0.01, 1e-9);
  EXPECT_TRUE(lose_samples({.gap_at_s = 1.504, .gap_s = 0.004}, kClock, recorded).empty());
}

TEST(InstrumentFaults, NoneAskedForNoneMade) {
  auto recorded = channels(400);
  EXPECT_TRUE(lose_samples({}, kClock, recorded).empty());
  EXPECT_EQ(std::ranges::count_if(recorded[0].values, [](float v) { return std::isnan(v); }), 0);
  std::ranges::fill(recorded[1].values, 20.0F);
  EXPECT_TRUE(truth_of_clipping({}, kClock, recorded).empty());
}

TEST(InstrumentFaults, ClippedIsEachStretchAtTheLimit) {
  auto recorded = channels(400);
  auto& motor_a = recorded[1].values;
  std::fill(motor_a.begin() + 100, motor_a.begin() + 110, 6.0F);
  motor_a[200] = 6;
  std::fill(motor_a.begin() + 395, motor_a.end(), 6.0F);  // up to the capture's end
  const auto truth = truth_of_clipping({.clip_current_a = 6}, kClock, recorded);
  ASSERT_EQ(truth.size(), 3U);
  const double starts_s[] = {1, 2, 3.95}, durations_s[] = {0.1, 0.01, 0.05};
  for (std::size_t k = 0; k < 3; ++k) {
    EXPECT_EQ(truth[k].kind, Kind::CLIPPED);
    EXPECT_NEAR(truth[k].time_s, starts_s[k], 1e-9);
    EXPECT_NEAR(measure(truth[k], "duration"), durations_s[k], 1e-9);
  }
}

TEST(InstrumentFaults, WhatLeavesTheLimitForTenMillisecondsIsOneStretch) {
  const SampleClock clock = SampleClock::of_rate(1000);
  auto recorded = channels(400);
  auto& motor_a = recorded[1].values;
  motor_a[100] = motor_a[110] = motor_a[121] = 6;
  const auto truth = truth_of_clipping({.clip_current_a = 6}, clock, recorded);
  ASSERT_EQ(truth.size(), 2U);
  EXPECT_NEAR(measure(truth[0], "duration"), 0.011, 1e-9);
  EXPECT_NEAR(truth[1].time_s, 0.121, 1e-9);
}

TEST(InstrumentFaults, OnlyTheCurrentClips) {
  auto recorded = channels(400);
  EXPECT_TRUE(truth_of_clipping({.clip_current_a = 6}, kClock, recorded).empty());  // line: 7 kPa
}

}  // namespace
}  // namespace airlatch
