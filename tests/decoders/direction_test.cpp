// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/direction.hpp"

#include <gtest/gtest.h>

#include "tests/support/run_waves.hpp"

namespace airlatch {
namespace {
using namespace test;
using End = RunWaves::End;

// Feeds swapped on the context: the pressure rules, not the contact's letter.
TEST(Direction, PressureRulesOverTheRigsWord) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 3, -40, End::kCutOff, 4).rest(5).noise(3);
  ChainSettings settings;
  settings.rig.contact_a_direction = Direction::PRESSURE;
  const auto starts = of_kind(decode(waves.all(), 4096, settings), Kind::MOTOR_START);
  ASSERT_EQ(starts.size(), 1U);
  EXPECT_EQ(starts[0].direction, Direction::VACUUM);
}

TEST(Direction, TheRigGivesItWithoutPressure) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::B, 3, 0, End::kCutOff, 4).rest(5).noise(4);
  ChainSettings settings;
  settings.rig.contact_a_direction = Direction::PRESSURE;
  const Waves without = {{Role::FEED_A_VOLTAGE, waves.feed_a},
                         {Role::FEED_B_VOLTAGE, waves.feed_b},
                         {Role::MOTOR_CURRENT, waves.motor}};
  EXPECT_EQ(of_kind(decode(without, 4096, settings), Kind::MOTOR_START).at(0).direction,
            Direction::VACUUM);
  EXPECT_EQ(of_kind(decode(without), Kind::MOTOR_START).at(0).direction, Direction::UNKNOWN);
}

}  // namespace
}  // namespace airlatch
