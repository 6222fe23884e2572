// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/motor_start.hpp"

#include <gtest/gtest.h>

#include "tests/support/run_waves.hpp"

namespace airlatch {
namespace {
using namespace test;
using End = RunWaves::End;

// The drawn inrush has a sharp top, which no winding makes: a parabola goes a little over it.
constexpr double kSharpTop_a = 0.1;

// Start of a PM motor from rest, closed form (u = R i + L di/dt + k w, J dw/dt = k i): 12 V, 0.8
// ohm, 0.6 mH, k 0.02, J 4e-6 peaks at 12.609214 A after 2.035776 ms (derived).
TEST(MotorStart, PmMotorFromRest) {
  const double a = 0.8 / (2 * 0.6e-3), s = std::sqrt(a * a - 0.02 * 0.02 / (0.6e-3 * 4e-6));
  const auto i = [&](double t) { return 12 / (0.6e-3 * s) * std::exp(-a * t) * std::sinh(s * t); };
  double low = 0, high = 0.002;
  for (int k = 0; k < 60; ++k) (i((low + high) / 2) < 1.2609214 ? low : high) = (low + high) / 2;
  for (const std::int64_t rate_hz : {2000, 10000, 50000}) {
    RunWaves waves(rate_hz);
    waves.rest(1.00003).dead(Contact::A, 3).rest(4);
    Wave motor(rate_hz);
    motor.hold(0, 1.00003).curve([&](double t) { return std::max(i(t), 3.0 * (t > 0.01)); }, 2);
    motor.hold(3, 2.5).line(0, 2.501).hold(0, 4);
    waves.motor = motor;
    waves.noise(8);
    const auto starts = of_kind(decode(waves.all()), Kind::MOTOR_START);
    ASSERT_EQ(starts.size(), 1U) << rate_hz;
    EXPECT_NEAR(starts[0].time_s, 1.00003 + low, 0.2 / static_cast<double>(rate_hz));
    const Measure* peak = find_measure(starts[0], "inrush_peak");
    ASSERT_NE(peak, nullptr);
    EXPECT_NEAR(peak->value, 12.609214, 3 * peak->u);
    EXPECT_LT(peak->u, rate_hz < 5000 ? 0.5 : 0.1);
  }
}

// Pulses without noise, which no fit of a transient is determined by: what is said of them stays
// within what the samples show, and nothing is known for certain.
TEST(MotorStart, RectanglesOfNoNoise) {
  for (const std::int64_t rate_hz : {50, 100, 200, 500, 1000, 2000, 5000, 10'000, 50'000})
    for (const double amperes : {1.0, 3.0, 12.0})
      for (const double first : {1.0, 3.0}) {  // the first sample's, in amperes
        const double period_s = 1 / static_cast<double>(rate_hz);
        Wave motor(rate_hz), feed(rate_hz), supply(rate_hz);
        motor.hold(0, 1).hold(first * amperes, 1 + 1.5 * period_s).hold(amperes, 3).hold(0, 5);
        feed.hold(0, 1).hold(12, 3).hold(0, 5);
        supply.hold(12, 5);
        const auto events = decode({{Role::MOTOR_CURRENT, motor},
                                    {Role::FEED_A_VOLTAGE, feed},
                                    {Role::SUPPLY_VOLTAGE, supply}});
        const auto starts = of_kind(events, Kind::MOTOR_START);
        ASSERT_EQ(starts.size(), 1U) << rate_hz;
        EXPECT_NEAR(starts[0].time_s, 1, 1.1 * period_s) << rate_hz;
        for (const Event& event : events) {
          EXPECT_LE(event.time_u_s, period_s) << rate_hz;
          for (const Measure& m : event.measures) {
            EXPECT_GT(m.u, 0) << rate_hz << name_of(event.kind) << m.name;
            if (m.unit == "s" || m.unit == "A") {
              EXPECT_LE(m.u, std::max(0.5 * std::abs(m.value), 2 * period_s))
                  << rate_hz << name_of(event.kind) << m.name;
            }
            if (m.name == "inrush_peak") {
              EXPECT_LE(m.value, 1.2 * first * amperes) << rate_hz;
            }
          }
        }
      }
}

TEST(MotorStart, InstantPeakDelayAndSag) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 3, 40, End::kCutOff, 4).rest(5).noise(1);
  const auto starts = of_kind(decode(waves.all()), Kind::MOTOR_START);
  ASSERT_EQ(starts.size(), 1U);
  const Event& start = starts[0];
  EXPECT_NEAR(start.time_s, 1 + RunWaves::kStartLate_s, 20e-6);  // a fifth of a sample
  EXPECT_LT(start.time_u_s, 50e-6);
  EXPECT_EQ(start.contact, Contact::A);
  EXPECT_EQ(start.direction, Direction::PRESSURE);
  EXPECT_NEAR(measure(start, "inrush_peak"), RunWaves::kPeak_a, kSharpTop_a);
  EXPECT_NEAR(measure(start, "feed_to_start"), RunWaves::kStartLate_s, 1e-4);
  EXPECT_NEAR(measure(start, "supply_sag"), RunWaves::kPeak_a * RunWaves::kSource_ohm, 0.01);
}

TEST(MotorStart, AProbeMountedBackwardsIsNoOtherMotor) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::B, 3, -40, End::kCutOff, 4).rest(5);
  for (float& a : waves.motor.values) a = -a;
  waves.noise(2);
  const auto starts = of_kind(decode(waves.all()), Kind::MOTOR_START);
  ASSERT_EQ(starts.size(), 1U);
  EXPECT_NEAR(starts[0].time_s, 1 + RunWaves::kStartLate_s, 20e-6);
  EXPECT_NEAR(measure(starts[0], "inrush_peak"), RunWaves::kPeak_a, kSharpTop_a);
  EXPECT_EQ(starts[0].direction, Direction::VACUUM);
}

// Clamps drift: the zero is learnt while the motor is off.
TEST(MotorStart, AClampWithAnOffsetIsNoCurrent) {
  RunWaves waves(10000);
  waves.rest(20).run(Contact::A, 22, 40, End::kCutOff, 23).rest(24);
  for (std::size_t k = 0; k < waves.motor.values.size(); ++k)
    waves.motor.values[k] += static_cast<float>(0.4 + 0.02 * static_cast<double>(k) / 10000);
  waves.noise(3);
  const auto starts = of_kind(decode(waves.all()), Kind::MOTOR_START);
  ASSERT_EQ(starts.size(), 1U);
  EXPECT_NEAR(starts[0].time_s, 20 + RunWaves::kStartLate_s, 20e-6);
  EXPECT_NEAR(measure(starts[0], "inrush_peak"), RunWaves::kPeak_a, kSharpTop_a);
}

TEST(MotorStart, SlowMeterRefusesTheInrush) {
  RunWaves waves(4);
  waves.rest(2.1).run(Contact::A, 5.1, 40, End::kCutOff, 7).rest(8);
  const auto starts = of_kind(decode(waves.all()), Kind::MOTOR_START);
  ASSERT_EQ(starts.size(), 1U);
  EXPECT_EQ(find_measure(starts[0], "inrush_peak"), nullptr);
  EXPECT_EQ(missing(starts[0], "inrush_peak"), MissingCode::TOO_SLOW);
  EXPECT_NEAR(starts[0].time_s, 2.1, 2 * starts[0].time_u_s);
}

TEST(MotorStart, CurrentAlone) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 3, 40, End::kCutOff, 4).rest(5).noise(5);
  const auto starts = of_kind(decode({{Role::MOTOR_CURRENT, waves.motor}}), Kind::MOTOR_START);
  ASSERT_EQ(starts.size(), 1U);
  EXPECT_EQ(starts[0].direction, Direction::UNKNOWN);
  EXPECT_EQ(starts[0].contact, Contact::NONE);
  EXPECT_EQ(find_measure(starts[0], "feed_to_start"), nullptr);
  EXPECT_EQ(missing(starts[0], "feed_to_start"), MissingCode::NO_CHANNEL);
}

TEST(MotorStart, SpikesTenTimesTheNoiseAreNoStart) {
  Wave motor(10000);
  motor.hold(0, 10).noise(0.012, 6);
  for (std::size_t k = 500; k < motor.values.size(); k += 3333)  // 0.1 ms each, thirty a second
    motor.values[k] += 0.12F;
  EXPECT_TRUE(decode({{Role::MOTOR_CURRENT, motor}}).empty());
}

}  // namespace
}  // namespace airlatch
