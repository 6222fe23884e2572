// SPDX-License-Identifier: GPL-3.0-or-later
// What a number that a file writes means once a rig has spoken: computed here by hand.
#include "plugin/session/rig_unit.hpp"

#include <gtest/gtest.h>

#include "decoders/stream/rig_scale.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

constexpr double kPsi_kpa = 6.894757293168361;  // NIST SP 811, table B.8

SourceChannel in_file(const std::string& unit) {
  SourceChannel channel{.name = "CH1", .unit = unit};
  if (const auto known = parse_unit(unit)) {
    channel.unit_scale = known->scale;
    channel.unit_offset = known->offset;
  }
  return channel;
}

Rig::Channel entry(Role role) {
  Rig::Channel out;
  out.source = "CH1";
  out.role = role;
  return out;
}

// The quantity of a number in the file, as a chain is handed it.
double quantity(const SourceChannel& channel, const Rig::Channel& rig_entry, double number,
                const Rig& rig = {}) {
  const RigUnit unit = settle_unit(channel, rig_entry, rig, "x.csv");
  RigScale scale(unit.entry);
  const std::vector<float> handed_out{
      static_cast<float>(channel.unit_scale * number + channel.unit_offset)};
  constexpr std::int64_t kLater = 1000;  // not a reading that a zero is learnt from
  const SampleBlock block{
      .clock = SampleClock::of_rate(100), .first = kLater, .values = handed_out};
  return static_cast<double>(scale.apply(block, 0).values[0]);
}

std::string refused(const SourceChannel& channel, const Rig::Channel& rig_entry) {
  try {
    settle_unit(channel, rig_entry, {}, "x.csv");
  } catch (const InputError& error) {
    EXPECT_EQ(error.status(), ExitStatus::kUnusableData);
    return error.what();
  }
  return "";
}

TEST(RigUnit, TheFilesUnitHoldsWhereTheRigSaysNothing) {
  EXPECT_NEAR(quantity(in_file("mbar"), entry(Role::LINE_PRESSURE), 400), 40, 1e-4);
  Rig::Channel one = entry(Role::LINE_PRESSURE);
  one.scale = 1;  // the default, said aloud
  EXPECT_NEAR(quantity(in_file("mbar"), one, 400), 40, 1e-4);
}

// A recording hands out what an instrument had, with its unit beside it.
TEST(RigUnit, AUnitThatTheSourceLeftUnappliedIsApplied) {
  const SourceChannel recorded{.name = "CH1", .unit = "hPa"};
  EXPECT_NEAR(quantity(recorded, entry(Role::LINE_PRESSURE), 400), 40, 1e-4);
  Rig::Channel psi = entry(Role::LINE_PRESSURE);
  psi.unit = "psi";
  EXPECT_NEAR(quantity(recorded, psi, 6), 6 * kPsi_kpa, 1e-4);
}

TEST(RigUnit, TheRigsUnitReplacesTheFiles) {
  Rig::Channel psi = entry(Role::LINE_PRESSURE);
  psi.unit = "psi";
  EXPECT_NEAR(quantity(in_file("mbar"), psi, 6), 6 * kPsi_kpa, 1e-4);
  EXPECT_NEAR(quantity(in_file(""), psi, 6), 6 * kPsi_kpa, 1e-4);
  Rig::Channel warm = entry(Role::AIR_TEMPERATURE);
  warm.unit = "K";
  EXPECT_NEAR(quantity(in_file("°F"), warm, 293.15), 20, 1e-3);
}

// A unit is brought to V, A, kPa or degC first; then come scale, offset and sign as they stand.
TEST(RigUnit, ScaleAndOffsetComeAfterTheRigsUnit) {
  Rig::Channel sensor = entry(Role::LINE_PRESSURE);
  sensor.unit = "mV";
  sensor.scale = 50;  // kPa per V
  sensor.offset = -125;
  sensor.invert = true;
  EXPECT_NEAR(quantity(in_file(""), sensor, 3500), -50, 1e-4);
  EXPECT_NEAR(quantity(in_file("V"), sensor, 3500), -50, 1e-4);
}

// Never both: the scale is per what the file writes, and that is said.
TEST(RigUnit, AScaleAndTheFilesUnitDoNotMultiply) {
  Rig::Channel scaled = entry(Role::LINE_PRESSURE);
  scaled.scale = 0.1;
  EXPECT_NEAR(quantity(in_file("mbar"), scaled, 400), 40, 1e-4);
  const RigUnit unit = settle_unit(in_file("mbar"), scaled, {}, "x.csv");
  EXPECT_NE(unit.remark.find("taken per mbar"), std::string::npos) << unit.remark;
  // As the remark advises, a correction on top of the unit.
  scaled.unit = "mbar";
  scaled.scale = 1.02;
  EXPECT_NEAR(quantity(in_file("mbar"), scaled, 400), 40.8, 1e-4);
}

TEST(RigUnit, UnknownAndUnfittingUnitsAreRefused) {
  Rig::Channel unknown = entry(Role::LINE_PRESSURE);
  unknown.unit = "furlong";
  EXPECT_NE(refused(in_file(""), unknown).find("known are"), std::string::npos);
  Rig::Channel volts = entry(Role::LINE_PRESSURE);
  volts.unit = "mV";
  EXPECT_NE(refused(in_file(""), volts).find("kPa per V"), std::string::npos);
}

TEST(RigUnit, AnAbsolutePressureIsTakenFromAmbient) {
  Rig rig;
  rig.ambient_kpa = 98.5;
  rig.ambient_u_kpa = 0.3;
  Rig::Channel absolute = entry(Role::LINE_PRESSURE);
  absolute.absolute = true;
  absolute.u_abs = 0.4;
  EXPECT_NEAR(quantity(in_file("kPa"), absolute, 150, rig), 51.5, 1e-4);
  EXPECT_NEAR(settle_unit(in_file("kPa"), absolute, rig, "x.csv").entry.u_abs, 0.5, 1e-12);
  absolute.invert = true;
  absolute.scale = -1;
  EXPECT_NEAR(quantity(in_file("kPa"), absolute, 150, rig), 51.5, 1e-4);
}

TEST(RigUnit, AUnitCanBeAbsoluteByItsName) {
  Rig rig;
  rig.ambient_kpa = 100;
  for (const auto& [unit, number, kpa] : {std::tuple{"psia", 20.0, 20 * kPsi_kpa - 100},
                                          {"bara", 1.5, 50.0},
                                          {"kPa abs", 150.0, 50.0},
                                          {"mbar(a)", 1500.0, 50.0}}) {
    Rig::Channel named = entry(Role::LINE_PRESSURE);
    named.unit = unit;
    EXPECT_NEAR(quantity(in_file(""), named, number, rig), kpa, 1e-3) << unit;
  }
  // Pascal ends in an a, and is none of those.
  Rig::Channel pascal = entry(Role::LINE_PRESSURE);
  pascal.unit = "kPa";
  EXPECT_NEAR(quantity(in_file(""), pascal, 50, rig), 50, 1e-4);
}

TEST(RigUnit, WithoutAnAmbientPressureTheStartIsTaken) {
  Rig::Channel absolute = entry(Role::LINE_PRESSURE);
  absolute.absolute = true;
  EXPECT_TRUE(settle_unit(in_file("kPa"), absolute, {}, "x.csv").entry.auto_zero);
}

TEST(RigUnit, OnlyPressuresAreAbsolute) {
  Rig::Channel current = entry(Role::MOTOR_CURRENT);
  current.absolute = true;
  EXPECT_NE(refused(in_file("A"), current).find("absolute"), std::string::npos);
}

}  // namespace
}  // namespace airlatch
