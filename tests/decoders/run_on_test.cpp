// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/run_on.hpp"

#include <gtest/gtest.h>

#include "tests/support/run_waves.hpp"

namespace airlatch {
namespace {
using namespace test;
using End = RunWaves::End;

TEST(RunOn, ReportedAtTheLimitWithThePressure) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 21, 40, End::kFeedOff).rest(23).noise(1);
  const auto on = of_kind(decode(waves.all()), Kind::RUN_ON);
  ASSERT_EQ(on.size(), 1U);
  EXPECT_NEAR(on[0].time_s, 16 + RunWaves::kStartLate_s, 1e-5);
  EXPECT_NEAR(measure(on[0], "pressure"), 30, 0.1);  // three quarters of the way
}

TEST(RunOn, TheLimitIsThePlans) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 5, 40, End::kFeedOff).rest(6).noise(2);
  EXPECT_TRUE(of_kind(decode(waves.all()), Kind::RUN_ON).empty());
  ChainSettings settings;
  settings.plan.run_limit_s = 2;
  const auto on = of_kind(decode(waves.all(), 4096, settings), Kind::RUN_ON);
  ASSERT_EQ(on.size(), 1U);
  EXPECT_NEAR(on[0].time_s, 3 + RunWaves::kStartLate_s, 1e-5);
}

}  // namespace
}  // namespace airlatch
