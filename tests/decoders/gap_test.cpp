// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/gap.hpp"

#include <gtest/gtest.h>

#include "tests/support/run_waves.hpp"

namespace airlatch {
namespace {
using namespace test;
using End = RunWaves::End;

TEST(Gap, MissingSamplesOfAllChannelsAreOneGap) {
  RunWaves waves(1000);
  waves.rest(5).noise(1);
  Waves all = waves.all();
  for (auto& [role, wave] : all)
    std::fill(wave.values.begin() + 2000, wave.values.begin() + 2750,
              std::numeric_limits<float>::quiet_NaN());
  const auto events = decode(all);
  ASSERT_EQ(events.size(), 1U);
  EXPECT_EQ(events[0].kind, Kind::GAP);
  EXPECT_NEAR(events[0].time_s, 2, 1e-9);
  EXPECT_NEAR(measure(events[0], "duration"), 0.75, 1e-9);
}

TEST(Gap, OneMissingReadingOfASlowMeter) {
  Wave line(4);
  line.hold(0, 5).noise(0.05, 2);
  line.values[8] = std::numeric_limits<float>::quiet_NaN();
  const auto events = decode({{Role::LINE_PRESSURE, line}});
  ASSERT_EQ(events.size(), 1U);
  EXPECT_NEAR(events[0].time_s, 2, 1e-9);
  EXPECT_NEAR(measure(events[0], "duration"), 0.25, 1e-9);
}

TEST(Gap, MissingToTheEnd) {
  Wave line(1000);
  line.hold(0, 3);
  std::fill(line.values.begin() + 2500, line.values.end(), std::numeric_limits<float>::quiet_NaN());
  const auto events = decode({{Role::LINE_PRESSURE, line}});
  ASSERT_EQ(events.size(), 1U);
  EXPECT_NEAR(events[0].time_s, 2.5, 1e-9);
}

}  // namespace
}  // namespace airlatch
