// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/motor_current.hpp"

#include <gtest/gtest.h>

#include "tests/support/run_waves.hpp"

namespace airlatch {
namespace {
using namespace test;
using End = RunWaves::End;
using What = Edge::What;

// Listens below the whole list, and keeps what the motor's current did.
class MotorEdges final : public Decoder {
 public:
  MotorEdges(CaptureContext& context, std::vector<Edge>& seen) : Decoder(context), seen_(seen) {}
  void on_edge(const Edge& lower) override {
    if (lower.what != What::kFeedOn && lower.what != What::kFeedOff) seen_.push_back(lower);
  }

 private:
  std::vector<Edge>& seen_;
};

std::vector<Edge> edges(const Waves& waves) {
  std::vector<Edge> seen;
  ChainSettings settings;
  settings.more.push_back(
      [&seen](CaptureContext& context) { return std::make_unique<MotorEdges>(context, seen); });
  (void)decode(waves, 4096, settings);
  return seen;
}

TEST(MotorCurrent, ARunIsOnThenDipsThenOff) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::B, 3, -40, End::kCutOff, 4).rest(5).noise(1);
  const auto seen = edges(waves.all());
  ASSERT_EQ(seen.size(), 3U);
  EXPECT_EQ(seen[0].what, What::kMotorOn);
  EXPECT_NEAR(seen[0].time_s, 1 + RunWaves::kStartLate_s, 1e-5);
  EXPECT_NEAR(seen[0].after, RunWaves::kPeak_a, 0.1);
  EXPECT_EQ(seen[0].contact, Contact::B);
  EXPECT_EQ(seen[1].what, What::kMotorDips);
  EXPECT_EQ(seen[2].what, What::kMotorOff);
  for (const Edge& fall : {seen[1], seen[2]}) {
    EXPECT_NEAR(fall.time_s, 3 + RunWaves::kStopLate_s, 2e-5);
    EXPECT_NEAR(fall.before, RunWaves::kRun_a, 0.05);
  }
}

// A clamp's zero that is off does not move the instants, and is reported beside the levels.
TEST(MotorCurrent, LevelsCountFromTheProbesZero) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 3, 40, End::kCutOff, 4).rest(5).noise(2);
  for (float& a : waves.motor.values) a += 0.5F;
  const auto seen = edges(waves.all());
  ASSERT_EQ(seen.size(), 3U);
  EXPECT_NEAR(seen[0].zero, 0.5, 0.02);
  EXPECT_NEAR(seen[0].time_s, 1 + RunWaves::kStartLate_s, 1e-5);
  EXPECT_NEAR(seen[2].before, RunWaves::kRun_a, 0.05);
}

TEST(MotorCurrent, BackWithinHalfASecondIsNoStop) {
  Wave motor(10000);
  motor.hold(0, 1).line(10, 1.002).line(3, 1.06).hold(3, 2).line(0, 2.001).hold(0, 2.2);
  motor.line(3, 2.202).hold(3, 4).noise(0.012, 3);
  const auto seen = edges({{Role::MOTOR_CURRENT, motor}});
  ASSERT_EQ(seen.size(), 3U);
  EXPECT_EQ(seen[1].what, What::kMotorDips);
  EXPECT_EQ(seen[2].what, What::kMotorBack);
  EXPECT_NEAR(seen[2].time_s, 2.201, 2e-5);
}

}  // namespace
}  // namespace airlatch
