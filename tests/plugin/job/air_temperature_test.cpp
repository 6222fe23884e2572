// SPDX-License-Identifier: GPL-3.0-or-later
// Samples, not pictures of them: the mean over all readings, however they are scaled or cut.
#include "plugin/job/air_temperature.hpp"

#include <gtest/gtest.h>

#include <limits>

namespace airlatch {
namespace {

RigMatch match_of(Role role) {
  RigMatch match;
  Rig::Channel entry{.source = "t", .role = role};
  entry.scale = 2;
  entry.offset = 1;
  match.channels.push_back({.rig = entry, .clock = SampleClock::of_rate(1)});
  return match;
}

TEST(AirTemperature, IsTheMeanOfWhatWasRead) {
  AirTemperature air;
  air.begin(match_of(Role::AIR_TEMPERATURE));
  const std::vector<float> first = {9, 10, std::numeric_limits<float>::quiet_NaN()}, then = {14};
  const SampleClock clock = SampleClock::of_rate(1);
  air.take({.clock = clock, .first = 0, .values = first});
  air.take({.clock = clock, .first = 3, .values = then});
  ASSERT_TRUE(air.mean_c());
  EXPECT_DOUBLE_EQ(*air.mean_c(), (19 + 21 + 29) / 3.0);  // 2 t + 1 each; the gap is no reading
}

TEST(AirTemperature, NoChannelNoTemperature) {
  AirTemperature air;
  air.begin(match_of(Role::LINE_PRESSURE));
  const std::vector<float> values = {9, 10};
  air.take({.clock = SampleClock::of_rate(1), .values = values});
  EXPECT_FALSE(air.mean_c());
}

}  // namespace
}  // namespace airlatch
