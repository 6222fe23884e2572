// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/locked_rotor.hpp"

#include <gtest/gtest.h>

#include "tests/support/run_waves.hpp"

namespace airlatch {
namespace {
using namespace test;
using End = RunWaves::End;

TEST(LockedRotor, StallCurrentFromTheStart) {
  RunWaves waves(10000);
  waves.rest(1).dead(Contact::A, 3).rest(4);
  Wave motor(10000);
  motor.hold(0, 1).line(10, 1.002).hold(10, 3).line(0, 3.001).hold(0, 4);
  waves.motor = motor;
  waves.noise(1);
  const auto locked = of_kind(decode(waves.all()), Kind::LOCKED_ROTOR);
  ASSERT_EQ(locked.size(), 1U);
  EXPECT_NEAR(locked[0].time_s, 1 + RunWaves::kStartLate_s, 1e-5);
  EXPECT_NEAR(measure(locked[0], "stall_current"), 10, 0.02);
}

TEST(LockedRotor, JammedInTheMiddle) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 2, 20, End::kNever);
  waves.motor.line(9.5, 2.01).hold(9.5, 4).line(0, 4.001).hold(0, 5);
  waves.line.hold(20, 5);
  waves.feed_a.hold(11, 4).hold(0, 5);
  waves.feed_b.hold(0, 5);
  waves.supply.hold(11.5, 4).hold(12, 5);
  waves.noise(2);
  const auto locked = of_kind(decode(waves.all()), Kind::LOCKED_ROTOR);
  ASSERT_EQ(locked.size(), 1U);
  EXPECT_NEAR(locked[0].time_s, 2.005, 1e-3);  // half way from 3 to 9.5 A
  EXPECT_NEAR(measure(locked[0], "stall_current"), 9.5, 0.02);
}

TEST(LockedRotor, AnOrdinaryRunTurns) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 3, 40, End::kCutOff, 4).rest(5).noise(3);
  EXPECT_TRUE(of_kind(decode(waves.all()), Kind::LOCKED_ROTOR).empty());
}

}  // namespace
}  // namespace airlatch
