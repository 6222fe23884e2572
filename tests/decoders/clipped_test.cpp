// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/clipped.hpp"

#include <gtest/gtest.h>

#include "tests/support/run_waves.hpp"

namespace airlatch {
namespace {
using namespace test;
using End = RunWaves::End;

std::vector<ChainChannel> ranged(const Wave& wave, Role role, double low, double high) {
  ChainChannel channel = channel_of(role, wave.clock);
  channel.rig.range_min = low;
  channel.rig.range_max = high;
  return {channel};
}

TEST(Clipped, AtTheRangeLimit) {
  Wave motor(1000);
  motor.hold(0, 2).hold(6, 2.05).hold(3, 3);
  const auto events = of_kind(
      decode({{Role::MOTOR_CURRENT, motor}}, 4096, {}, ranged(motor, Role::MOTOR_CURRENT, -6, 6)),
      Kind::CLIPPED);
  ASSERT_EQ(events.size(), 1U);
  EXPECT_NEAR(events[0].time_s, 2, 1e-9);
  EXPECT_NEAR(measure(events[0], "duration"), 0.05, 1e-9);
}

TEST(Clipped, OverloadNeedsNoRange) {
  Wave line(10);
  line.hold(0, 2).hold(std::numeric_limits<double>::infinity(), 2.5).hold(0, 4);
  const auto events = of_kind(decode({{Role::LINE_PRESSURE, line}}), Kind::CLIPPED);
  ASSERT_EQ(events.size(), 1U);
  EXPECT_NEAR(events[0].time_s, 2, 1e-9);
}

TEST(Clipped, InsideTheRangeSaysNothing) {
  Wave line(1000);
  line.hold(90, 3).noise(0.5, 1);
  EXPECT_TRUE(of_kind(decode({{Role::LINE_PRESSURE, line}}, 4096, {},
                             ranged(line, Role::LINE_PRESSURE, -100, 100)),
                      Kind::CLIPPED)
                  .empty());
}

}  // namespace
}  // namespace airlatch
