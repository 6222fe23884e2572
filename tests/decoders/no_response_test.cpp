// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/no_response.hpp"

#include <gtest/gtest.h>

#include "tests/support/run_waves.hpp"

namespace airlatch {
namespace {
using namespace test;
using End = RunWaves::End;

TEST(NoResponse, AFedContactThatDrawsNothing) {
  RunWaves waves(10000);
  waves.rest(1).dead(Contact::B, 3).rest(4).noise(1);
  const auto none = of_kind(decode(waves.all()), Kind::NO_RESPONSE);
  ASSERT_EQ(none.size(), 1U);
  EXPECT_NEAR(none[0].time_s, 1, 1e-4);
  EXPECT_EQ(none[0].contact, Contact::B);
  EXPECT_NEAR(measure(none[0], "waited"), 0.3, 1e-9);
}

TEST(NoResponse, AShortTouchIsNoTrial) {
  RunWaves waves(10000);
  waves.rest(1).dead(Contact::A, 1.2).rest(4).noise(2);
  EXPECT_TRUE(of_kind(decode(waves.all()), Kind::NO_RESPONSE).empty());
}

TEST(NoResponse, TheLimitIsThePlans) {
  RunWaves waves(10000);
  waves.rest(1).dead(Contact::A, 2).rest(4).noise(3);
  ChainSettings settings;
  settings.plan.response_limit_s = 1.5;
  EXPECT_TRUE(of_kind(decode(waves.all(), 4096, settings), Kind::NO_RESPONSE).empty());
}

TEST(NoResponse, WithoutACurrentChannelNobodyKnows) {
  RunWaves waves(10000);
  waves.rest(1).dead(Contact::A, 3).rest(4).noise(4);
  EXPECT_TRUE(of_kind(decode({{Role::FEED_A_VOLTAGE, waves.feed_a}}), Kind::NO_RESPONSE).empty());
}

TEST(NoResponse, ARunningMotorResponded) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 3, 40, End::kCutOff, 4).rest(5).noise(5);
  EXPECT_TRUE(of_kind(decode(waves.all()), Kind::NO_RESPONSE).empty());
}

}  // namespace
}  // namespace airlatch
