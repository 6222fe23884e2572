// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/direction_reversal.hpp"

#include <gtest/gtest.h>

#include "tests/support/run_waves.hpp"

namespace airlatch {
namespace {
using namespace test;
using End = RunWaves::End;

TEST(DirectionReversal, AtTheStartOfTheOtherWay) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 3, 40, End::kCutOff, 4).rest(6);
  waves.run(Contact::B, 8, -40, End::kCutOff, 9).rest(10).noise(1);
  const auto reversals = of_kind(decode(waves.all()), Kind::DIRECTION_REVERSAL);
  ASSERT_EQ(reversals.size(), 1U);
  EXPECT_NEAR(reversals[0].time_s, 6 + RunWaves::kStartLate_s, 1e-5);
  EXPECT_EQ(reversals[0].direction, Direction::VACUUM);
  EXPECT_NEAR(measure(reversals[0], "rest_time"),
              3 + RunWaves::kStartLate_s - RunWaves::kStopLate_s, 2e-5);
}

TEST(DirectionReversal, TheSameWayAgainIsNoReversal) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 2, 20, End::kFeedOff).rest(4);
  waves.run(Contact::A, 5, 40, End::kCutOff, 6).rest(7).noise(2);
  EXPECT_TRUE(of_kind(decode(waves.all()), Kind::DIRECTION_REVERSAL).empty());
}

}  // namespace
}  // namespace airlatch
