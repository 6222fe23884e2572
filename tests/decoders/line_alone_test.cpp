// SPDX-License-Identifier: GPL-3.0-or-later
// Pressure alone: a hand pump and a gauge, without a motor channel.
#include <gtest/gtest.h>

#include <cmath>

#include "decoders/leak_decay.hpp"
#include "tests/support/decode.hpp"
#include "tests/support/wave.hpp"

namespace airlatch {
namespace {
using namespace test;

// A hand pump: rest, then strokes of 0.25 s with 0.35 s between to `to_kpa`.
Wave& pumped(Wave& line, double from_s, double to_kpa, int strokes) {
  line.hold(0, from_s);
  double t_s = from_s, kpa = 0;
  for (int k = 1; k <= strokes; ++k) {
    const double next = to_kpa * k / strokes;
    line.line(next, t_s + 0.25);
    t_s += k < strokes ? 0.6 : 0.25;
    if (k < strokes) line.line(next - 0.01 * to_kpa, t_s);
    kpa = next;
  }
  EXPECT_EQ(kpa, to_kpa);
  return line;
}

std::vector<Event> decays(const Wave& line) {
  return of_kind(decode({{Role::LINE_PRESSURE, line}}), Kind::LEAK_DECAY);
}

// With a rig's entry for the gauge.
std::vector<Event> decays(const Wave& line, Rig::Channel entry) {
  entry.role = Role::LINE_PRESSURE;
  const std::vector<ChainChannel> channels = {{.rig = entry, .clock = line.clock}};
  return of_kind(decode({{Role::LINE_PRESSURE, line}}, 4096, {}, channels), Kind::LEAK_DECAY);
}

void expect_slope(const Event& decay, double truth) {
  const Measure& slope = *find_measure(decay, "slope");
  EXPECT_NEAR(slope.value, truth, 2.5 * slope.u) << decay.time_s;
}

TEST(LineAlone, StrokesThenAHold) {
  for (const std::int64_t rate_hz : {5, 10, 100, 1000})
    for (const double side : {1.0, -1.0}) {
      Wave line(rate_hz);
      pumped(line, 2, side * 45, 6);
      const double from_s = 5.25;
      line.curve([&](double t) { return side * (43 * std::exp(-t / 90) + 2 * std::exp(-t / 0.9)); },
                 40);
      line.noise(0.03, 3);
      const auto found = decays(line);
      ASSERT_EQ(found.size(), 1U) << rate_hz << ' ' << side;
      EXPECT_EQ(found[0].direction, side > 0 ? Direction::PRESSURE : Direction::VACUUM);
      EXPECT_GT(found[0].time_s, from_s);
      const double at_s = found[0].time_s - from_s;
      expect_slope(found[0], -side * 43 / 90 * std::exp(-at_s / 90));
      EXPECT_LT(find_measure(found[0], "slope")->u, rate_hz > 50 ? 0.02 : 0.04);
      EXPECT_NE(find_missing(found[0], "leak_share"), nullptr);
    }
}

TEST(LineAlone, AHoldFromTheFirstSample) {
  for (const double tau_s : {60.0, 1e9}) {
    Wave line(50);
    line.curve([&](double t) { return 38 * std::exp(-t / tau_s); }, 30).noise(0.03, 4);
    const auto found = decays(line);
    ASSERT_EQ(found.size(), 1U);
    expect_slope(found[0], -38 / tau_s * std::exp(-found[0].time_s / tau_s));
    EXPECT_LT(find_measure(found[0], "slope")->u, 0.01);
  }
}

// Ten readings a second for four seconds: a bound, not a wild number.
TEST(LineAlone, AShortHoldOfASlowMeterIsABound) {
  for (std::uint64_t seed = 0; seed < 20; ++seed) {
    Wave line(10);
    line.curve([](double t) { return 38 * std::exp(-t / 3000); }, 4).noise(0.04, seed);
    const auto found = decays(line);
    ASSERT_EQ(found.size(), 1U);
    const Measure& slope = *find_measure(found[0], "slope");
    EXPECT_LE(std::abs(slope.value), 2.5 * slope.u);
    EXPECT_LT(slope.u, 0.2);
  }
}

TEST(LineAlone, SeveralHoldsInOneCapture) {
  Wave line(100);
  pumped(line, 2, 40, 4);
  line.curve([](double t) { return 40 * std::exp(-t / 200); }, 25);           // a leak
  line.line(0, 25.3).hold(0, 30);                                             // a valve opened
  line.line(-35, 31).curve([](double t) { return -34 - std::exp(-t); }, 55);  // sucked, tight
  line.noise(0.03, 5);
  const auto found = decays(line);
  ASSERT_EQ(found.size(), 2U);
  expect_slope(found[0], -40.0 / 200 * std::exp(-(found[0].time_s - 4.05) / 200));
  EXPECT_LT(found[0].time_s + find_measure(found[0], "duration")->value, 25.01);
  expect_slope(found[1], 0);
  EXPECT_EQ(found[1].direction, Direction::VACUUM);
}

TEST(LineAlone, AValveThatOpensIsNoLeak) {
  for (const double tau_s : {0.05, 0.3, 0.8}) {
    Wave line(100);
    line.hold(40, 10).curve([&](double t) { return 40 * std::exp(-t / tau_s); }, 30).noise(0.03, 6);
    const auto found = decays(line);
    ASSERT_EQ(found.size(), 1U) << tau_s;  // of the hold before it
    expect_slope(found[0], 0);
    EXPECT_LT(found[0].time_s + find_measure(found[0], "duration")->value, 10.01);
  }
}

// A branch opened, an actuator moved by hand: a step of volume, the hold goes on at less.
TEST(LineAlone, AStepOfVolumeEndsTheWindowAndIsNoLeak) {
  Wave line(100);
  line.hold(40, 10).curve([](double t) { return 33 + 7 * std::exp(-t / 0.1); }, 30).noise(0.03, 7);
  const auto found = decays(line);
  ASSERT_EQ(found.size(), 2U);
  for (const Event& hold : found) expect_slope(hold, 0);
  EXPECT_NEAR(measure(found[1], "start_pressure"), 33, 0.1);
}

TEST(LineAlone, ALeakThatIsOverInASecond) {
  Wave line(200);
  pumped(line, 2, 40, 1);
  line.curve([](double t) { return 40 * std::exp(-t / 0.5); }, 8).noise(0.03, 8);
  const auto found = decays(line);
  ASSERT_EQ(found.size(), 1U);
  expect_slope(found[0], -40 / 0.5 * std::exp(-(found[0].time_s - 2.25) / 0.5));
}

TEST(LineAlone, WhatIsDrivenHeldUpOrFrozenIsNoLeak) {
  Wave driven(100);  // a pump that nobody measures works against its dead head
  driven.hold(0, 2)
      .curve([](double t) { return 40 * (1 - std::exp(-t / 1.5)); }, 30)
      .noise(0.03, 9);
  EXPECT_TRUE(decays(driven).empty());
  Wave held(100);  // and is regulated
  held.hold(0, 2).line(30, 2.3).hold(30, 30).noise(0.03, 10);
  EXPECT_TRUE(decays(held).empty());
  Wave frozen(100);
  frozen.hold(-38.1437, 20);
  EXPECT_TRUE(decays(frozen).empty());
  Wave nothing(100);
  nothing.hold(0, 30).noise(0.03, 11);
  EXPECT_TRUE(decays(nothing).empty());
}

// Twelve hours with the day's temperature: 0.02 kPa/min leak, told with a thermometer and without.
TEST(LineAlone, TwelveHoursWithTheDaysTemperature) {
  const double length_s = 12 * 3600;
  const auto kelvin = [](double t) { return 293.15 + 4 * std::sin(2 * 3.14159265 * t / 86400); };
  const auto alone = [](double t) { return 40 * std::exp(-t / 120000); };  // 0.02 kPa/min
  Wave line(1), air(1);
  line.curve([&](double t) { return (alone(t) + 101.325) * kelvin(t) / 293.15 - 101.325; },
             length_s);
  line.noise(0.05, 12);
  air.curve([&](double t) { return kelvin(t) - 273.15; }, length_s).noise(0.05, 13);
  for (const bool thermometer : {true, false}) {
    Waves waves = {{Role::LINE_PRESSURE, line}};
    if (thermometer) waves.emplace_back(Role::AIR_TEMPERATURE, air);
    const auto found = of_kind(decode(waves), Kind::LEAK_DECAY);
    ASSERT_EQ(found.size(), 1U);
    const double at_s = found[0].time_s;
    expect_slope(found[0], -alone(at_s) / 120000);
    EXPECT_LT(60 * find_measure(found[0], "slope")->u, thermometer ? 0.002 : 0.02);
    const double gauge = (alone(at_s) + 101.325) * kelvin(at_s) / 293.15 - 101.325;
    EXPECT_NEAR(measure(found[0], "start_pressure"), gauge, 0.1);
  }
}

// A slow sensor shows what was there its time constant ago; the rig says so.
TEST(LineAlone, ASensorsLagIsTakenBack) {
  Wave line(100);
  line.curve([](double t) { return 40 * std::exp(-(t - 0.5) / 40); }, 30).noise(0.02, 14);
  const auto found = decays(line, {.lag_s = 0.5});
  ASSERT_EQ(found.size(), 1U);
  const double there = 40 * std::exp(-found[0].time_s / 40);
  EXPECT_NEAR(measure(found[0], "start_pressure"), there, 0.06);
}

// A sensor at its range's end measures nothing; what follows is measured.
TEST(LineAlone, AtTheRangesEndNothingIsMeasured) {
  Wave line(100);
  line.curve([](double t) { return std::min(35.0, 50 * std::exp(-t / 40)); }, 40).noise(0.005, 15);
  const auto found = decays(line, {.range_min = -35.0, .range_max = 35.0});
  ASSERT_EQ(found.size(), 1U);
  EXPECT_GT(found[0].time_s, 14);  // 40 ln(50 / 35) = 14.3 s
  expect_slope(found[0], -50.0 / 40 * std::exp(-found[0].time_s / 40));
}

}  // namespace
}  // namespace airlatch
