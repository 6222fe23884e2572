// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/dropout.hpp"

#include <gtest/gtest.h>

#include "tests/support/run_waves.hpp"

namespace airlatch {
namespace {
using namespace test;
using End = RunWaves::End;

// A run with its current interrupted for `gap_s` at 2 s.
Waves interrupted(double gap_s) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 5, 40, End::kCutOff, 6).rest(7);
  Wave motor(10000);
  motor.hold(0, 1).line(10, 1.002).line(3, 1.06).hold(3, 2).line(0, 2.001).hold(0, 2 + gap_s);
  motor.line(8, 2.002 + gap_s).line(3, 2.06 + gap_s).hold(3, 5).line(0, 5.001).hold(0, 7);
  waves.motor = motor;
  waves.noise(1);
  return waves.all();
}

TEST(Dropout, FallAndReturn) {
  const auto events = decode(interrupted(0.2));
  const auto dropouts = of_kind(events, Kind::DROPOUT);
  ASSERT_EQ(dropouts.size(), 1U);
  EXPECT_NEAR(dropouts[0].time_s, 2.0005, 2e-5);
  // Back through half the running level, 1.5 of 8 A, 0.375 ms after it came.
  EXPECT_NEAR(measure(dropouts[0], "duration"), 0.2 + 0.000375 - 0.0005, 3e-5);
  EXPECT_EQ(of_kind(events, Kind::MOTOR_START).size(), 1U);
  EXPECT_EQ(of_kind(events, Kind::STALL_CUTOFF).size(), 1U);
  EXPECT_NEAR(measure(of_kind(events, Kind::STALL_CUTOFF)[0], "run_time"), 4.0003, 2e-5);
}

TEST(Dropout, HalfASecondIsAStop) {
  EXPECT_EQ(of_kind(decode(interrupted(0.49)), Kind::DROPOUT).size(), 1U);
  const auto longer = decode(interrupted(0.51));
  EXPECT_TRUE(of_kind(longer, Kind::DROPOUT).empty());
  EXPECT_EQ(of_kind(longer, Kind::MOTOR_START).size(), 2U);
  EXPECT_EQ(of_kind(longer, Kind::RESTART).size(), 1U);  // the feed was never removed
}

}  // namespace
}  // namespace airlatch
