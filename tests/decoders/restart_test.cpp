// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/restart.hpp"

#include <gtest/gtest.h>

#include "tests/support/run_waves.hpp"

namespace airlatch {
namespace {
using namespace test;
using End = RunWaves::End;

TEST(Restart, StartsAgainWithTheFeedHeld) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 3, 40, End::kCutOff, 7);
  waves.run(Contact::A, 8, 42, End::kCutOff, 9).rest(10).noise(1);
  const auto restarts = of_kind(decode(waves.all()), Kind::RESTART);
  ASSERT_EQ(restarts.size(), 1U);
  EXPECT_NEAR(restarts[0].time_s, 7 + RunWaves::kStartLate_s, 1e-5);
  EXPECT_NEAR(measure(restarts[0], "hold_time"), 4 + RunWaves::kStartLate_s - RunWaves::kStopLate_s,
              2e-5);
}

TEST(Restart, NotAfterTheFeedWasRemoved) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 3, 40, End::kCutOff, 5).rest(7);
  waves.run(Contact::A, 8, 42, End::kCutOff, 9).rest(10).noise(2);
  EXPECT_TRUE(of_kind(decode(waves.all()), Kind::RESTART).empty());
}

}  // namespace
}  // namespace airlatch
