// SPDX-License-Identifier: GPL-3.0-or-later
// Sensors against what their header says: a line, a step, a range, a standard deviation.
#include "plugin/rehearse/sensors.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <set>

namespace airlatch {
namespace {

Sensor exact() {
  return {.name = "v", .role = Role::SUPPLY_VOLTAGE, .noise = 0, .range_min = -2, .range_max = 20};
}

std::vector<Role> roles(const Script& script) {
  Random random(1);
  std::vector<Role> out;
  for (const Sensor& sensor : sensors_of({}, script, random)) out.push_back(sensor.role);
  return out;
}

TEST(Sensors, ReadingIsGainAndOffset) {
  Random noise(1);
  Sensor sensor = exact();
  EXPECT_EQ(reading(sensor, 12.5, 0, noise), 12.5F);
  sensor.gain = 1.5;
  sensor.offset = -0.25;
  EXPECT_EQ(reading(sensor, 4, 0, noise), 5.75F);
}

// 4 bits over 22 V: steps of 1.375 V from -2 V.
TEST(Sensors, QuantisationStepIsTheRangeOverTwoToTheBits) {
  Random noise(1);
  std::set<float> levels;
  for (int k = 0; k < 1100; ++k) levels.insert(reading(exact(), 0.01 * k, 4, noise));
  for (const float level : levels) EXPECT_NEAR(std::remainder(level + 2, 1.375), 0, 1e-5);
  EXPECT_EQ(levels.size(), 9U);  // -0.625 to 10.375 V
  EXPECT_EQ(reading(exact(), 0.0624, 4, noise), -0.625F);
  EXPECT_EQ(reading(exact(), 0.0626, 4, noise), 0.75F);
}

TEST(Sensors, RangeClips) {
  Random noise(1);
  EXPECT_EQ(reading(exact(), 25, 0, noise), 20);
  EXPECT_EQ(reading(exact(), 25, 12, noise), 20);
  EXPECT_EQ(reading(exact(), -3, 12, noise), -2);
}

// Of 40000 readings the mean and the standard deviation scatter by 0.5 % and 0.35 % of sigma; five
// times that is allowed.
TEST(Sensors, NoiseIsNormal) {
  Random noise(7);
  Sensor sensor = exact();
  sensor.noise = 0.2;
  double sum = 0, squares = 0, within = 0;
  const int n = 40000;
  for (int k = 0; k < n; ++k) {
    const double error = static_cast<double>(reading(sensor, 5, 0, noise)) - 5;
    sum += error;
    squares += error * error;
    within += std::abs(error) < 0.2 ? 1 : 0;
  }
  EXPECT_NEAR(sum / n, 0, 0.2 * 0.025);
  EXPECT_NEAR(std::sqrt(squares / n), 0.2, 0.2 * 0.0175);
  EXPECT_NEAR(within / n, 0.6827, 0.012);  // within one sigma
}

TEST(Sensors, EveryContactHasItsChannelAndACommandPumpItsCommand) {
  EXPECT_EQ(roles({}),
            (std::vector{Role::SUPPLY_VOLTAGE, Role::FEED_A_VOLTAGE, Role::FEED_B_VOLTAGE,
                         Role::RETURN_VOLTAGE, Role::MOTOR_CURRENT, Role::LINE_PRESSURE}));
  EXPECT_EQ(roles({.command = true}),
            (std::vector{Role::SUPPLY_VOLTAGE, Role::RETURN_VOLTAGE, Role::MOTOR_CURRENT,
                         Role::LINE_PRESSURE, Role::COMMAND_LEVEL}));
}

TEST(Sensors, TooSmallAProbeIsWhatTheScriptSays) {
  Random random(1);
  for (const Sensor& sensor : sensors_of({}, {.clip_current_a = 6}, random))
    if (sensor.role == Role::MOTOR_CURRENT) {
      EXPECT_EQ(sensor.range_max, 6);
      EXPECT_EQ(sensor.range_min, -6);
    }
}

// The rig says what the sensors are, and a volume within what 2 % and whole millilitres allow.
TEST(Sensors, RigDescribesThem) {
  const PumpParameters p;
  double squares = 0;
  for (std::uint64_t seed = 1; seed <= 400; ++seed) {
    Random random(seed);
    const auto sensors = sensors_of({}, {}, random);
    const Rig rig = rig_of(sensors, p, random);
    ASSERT_EQ(std::ssize(rig.channel), 6);
    for (int c = 0; c < std::ssize(rig.channel); ++c) {
      const Sensor& sensor = sensors[static_cast<std::size_t>(c)];
      EXPECT_EQ(rig.channel[c].source, sensor.name);
      EXPECT_EQ(rig.channel[c].role, sensor.role);
      EXPECT_EQ(*rig.channel[c].range_max, sensor.range_max);
      EXPECT_LT(std::abs(sensor.offset), 6 * rig.channel[c].u_abs);
      EXPECT_LT(std::abs(sensor.gain - 1), 6 * rig.channel[c].u_rel);
      squares += std::pow(sensor.offset / rig.channel[c].u_abs, 2);
    }
    EXPECT_EQ(rig.line_volume_ml, std::round(rig.line_volume_ml));
    EXPECT_NEAR(rig.line_volume_ml, 250, 6 * rig.line_volume_u_ml);
    EXPECT_EQ(rig.line_volume_u_ml, 5);
  }
  // The offsets are as large as the rig says: 2400 draws, five times their scatter.
  EXPECT_NEAR(squares / 2400, 1, 5 * std::sqrt(2.0 / 2400));
}

TEST(Sensors, QuantityOfEachRole) {
  PumpParameters p;
  p.seized = true;
  p.ripple = 0;
  PumpModel model(p);
  model.feed(1, true);
  model.advance(0.1);
  const double i_a = model.current_a();
  EXPECT_NEAR(i_a, 12.4 / (0.025 + 0.032 + 0.020 + 0.9), 1e-6);
  EXPECT_EQ(quantity(Role::MOTOR_CURRENT, model, 0), i_a);
  EXPECT_NEAR(quantity(Role::SUPPLY_VOLTAGE, model, 0), 12.4 - 0.025 * i_a, 1e-12);
  EXPECT_NEAR(quantity(Role::FEED_B_VOLTAGE, model, 0), 12.4 - (0.025 + 0.032) * i_a, 1e-12);
  EXPECT_EQ(quantity(Role::FEED_A_VOLTAGE, model, 0), 0);
  EXPECT_NEAR(quantity(Role::RETURN_VOLTAGE, model, 0), 0.020 * i_a, 1e-12);
  EXPECT_EQ(quantity(Role::COMMAND_LEVEL, model, 5), 5);
  model.set_line_kpa(-20);
  EXPECT_NEAR(quantity(Role::LINE_PRESSURE, model, 0), -20, 1e-9);
}

}  // namespace
}  // namespace airlatch
