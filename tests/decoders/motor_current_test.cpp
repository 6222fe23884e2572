// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/motor_current.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

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

std::size_t count(const std::vector<Edge>& seen, What what) {
  return static_cast<std::size_t>(
      std::count_if(seen.begin(), seen.end(), [&](const Edge& e) { return e.what == what; }));
}

// A contact that connects the coasting motor to ground when it is let go: the current reverses and dies
// within tens of milliseconds. The run ended when it reversed.
TEST(MotorCurrent, BrakingThroughGroundIsNoRun) {
  RunWaves waves(1000);
  waves.rest(1).run(Contact::A, 3, 20, End::kNever);
  waves.motor.line(0, 3.0005).line(-8, 3.002).curve(
      [](double t) { return -8 * std::exp(-t / 0.012); }, 5);
  waves.feed_a.hold(0.2, 5);
  waves.feed_b.hold(0, 5);
  waves.supply.hold(12, 5);
  waves.line.hold(20, 5);
  waves.noise(7);
  const auto seen = edges(waves.all());
  ASSERT_EQ(seen.size(), 3U);
  EXPECT_EQ(seen[2].what, What::kMotorOff);
  EXPECT_NEAR(seen[2].time_s, 3.0003, 1e-3);
}

// A pump that shorts its motor when it cuts off: no source feeds the pulse, as its voltage shows.
TEST(MotorCurrent, BrakingInsideThePumpIsNoReturn) {
  RunWaves waves(1000);
  waves.rest(1).run(Contact::A, 3, 20, End::kNever);
  waves.motor.line(0, 3.001).hold(0, 3.008).line(6, 3.01).curve(
      [](double t) { return 6 * std::exp(-t / 0.012); }, 5);
  for (Wave* wave : {&waves.feed_a, &waves.supply}) wave->hold(12, 5);
  waves.feed_b.hold(0, 5);
  waves.line.hold(20, 5);
  waves.noise(7);
  const auto events = decode(waves.all());
  EXPECT_TRUE(of_kind(events, Kind::DROPOUT).empty());
  const auto stop = of_kind(events, Kind::STALL_CUTOFF);
  ASSERT_EQ(stop.size(), 1U);
  EXPECT_NEAR(stop[0].time_s, 3.0005, 1e-3);
}

TEST(MotorCurrent, AZeroThatHasJumpedIsFoundAgain) {
  RunWaves waves(1000);
  waves.rest(1).run(Contact::A, 3, 20, End::kCutOff, 4).rest(10);
  waves.run(Contact::B, 12, 0, End::kCutOff, 13).rest(15).noise(8);
  for (std::size_t k = 3200; k < waves.motor.values.size(); ++k) waves.motor.values[k] += 0.2F;
  const auto seen = edges(waves.all());
  ASSERT_EQ(seen.size(), 6U);
  EXPECT_NEAR(seen[3].zero, 0.2, 0.02);
}

// 0.4 A of noise hides single readings of a current of 2 A, not the run.
TEST(MotorCurrent, StrongNoiseIsAveraged) {
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    Wave motor(1000);
    motor.hold(0, 2).line(8, 2.002).line(2, 2.06).hold(2, 6).line(0, 6.001).hold(0, 9);
    motor.noise(0.4, seed);
    const auto seen = edges({{Role::MOTOR_CURRENT, motor}});
    ASSERT_EQ(seen.size(), 3U) << seed;
    EXPECT_NEAR(seen[0].time_s, 2, 0.004) << seed;
    EXPECT_NEAR(seen[2].time_s, 6, 0.01) << seed;
  }
}

TEST(MotorCurrent, FlickerNoiseIsNoRun) {
  for (std::uint64_t seed = 1; seed <= 10; ++seed) {
    Wave motor(2000);
    motor.hold(0, 5).line(9, 5.002).line(2.5, 5.06).hold(2.5, 9).line(0, 9.001).hold(0, 30);
    motor.flicker(0.12, seed).noise(0.02, seed);
    const auto seen = edges({{Role::MOTOR_CURRENT, motor}});
    EXPECT_EQ(seen.size(), 3U) << seed;
  }
}

TEST(MotorCurrent, ASineIsNoRun) {
  for (const double hz : {50.0, 440.0, 3000.0}) {
    Wave motor(32000);
    motor.hold(0, 4).hum(0.8, hz, 0.3);
    EXPECT_TRUE(edges({{Role::MOTOR_CURRENT, motor}}).empty()) << hz;
  }
}

// A bridge reverses the motor at once: each way is a run, and starts when it does.
TEST(MotorCurrent, ReversedWithoutAPause) {
  Wave motor(100);
  motor.hold(0, 1);
  for (int run = 0; run < 6; ++run) {
    const double sign = run % 2 == 0 ? 1 : -1;
    motor.curve([sign](double t) { return sign * (2.5 + 15 * std::exp(-t / 0.35)); },
                6 + 5.0 * run);
  }
  motor.noise(0.2, 5);
  const auto seen = edges({{Role::MOTOR_CURRENT, motor}});
  EXPECT_EQ(count(seen, What::kMotorOn), 6U);
  EXPECT_EQ(count(seen, What::kMotorOff), 5U);
  int run = 0;
  for (const Edge& edge : seen) {
    if (edge.what != What::kMotorOn) continue;
    EXPECT_NEAR(edge.time_s, 1 + 5.0 * run, 0.011);
    ++run;
  }
}

// A mains pump whose slow meter scatters never stops.
TEST(MotorCurrent, AScatteringMeterShowsNoStops) {
  for (std::uint64_t seed = 1; seed <= 10; ++seed) {
    Wave motor(1);
    motor.hold(1.3, 1200).noise(0.3, seed);
    const auto seen = edges({{Role::MOTOR_CURRENT, motor}});
    EXPECT_EQ(count(seen, What::kMotorOff), 0U) << seed;
  }
}

}  // namespace
}  // namespace airlatch
