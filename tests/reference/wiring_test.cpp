// SPDX-License-Identifier: GPL-3.0-or-later
// Wires and fuses: published tables against what the decoders measure and the alarms go by.
#include <gtest/gtest.h>

#include <fstream>
#include <sstream>

#include "decoders/method/blade_fuse.hpp"
#include "tests/support/decode.hpp"
#include "tests/support/run_waves.hpp"

namespace airlatch {
namespace {
using namespace test;

std::vector<std::vector<double>> read_rows(const std::string& name, std::size_t columns) {
  std::ifstream file(std::string(AIRLATCH_SOURCE_DIR "/tests/reference/data/") + name);
  EXPECT_TRUE(file) << name;
  std::string line;
  std::getline(file, line);
  std::vector<std::vector<double>> rows;
  while (std::getline(file, line)) {
    std::istringstream cells(line);
    std::vector<double> row;
    std::string cell;
    while (row.size() < columns && std::getline(cells, cell, ','))
      row.push_back(cell.empty() ? -1 : std::stod(cell));
    rows.push_back(row);
  }
  return rows;
}

// IEC 60228, class 1 and 2, 20 degC, as printed in public tables: leads of 4 m there and 4 m back.
// What the decoders make of the voltages at both ends is that resistance.
TEST(Wires, PathResistanceIsTheTables) {
  for (const auto& row : read_rows("iec60228_max_resistance_20c.csv", 2)) {
    const double path_ohm = 4e-3 * row[1];
    RunWaves waves(2000);
    waves.rest(1).run(Contact::A, 4, 40, RunWaves::End::kCutOff, 5).rest(6);
    waves.noise(3);
    Waves all;
    Wave motor = waves.motor, supply = waves.motor, feed = waves.motor, back = waves.motor;
    for (std::size_t k = 0; k < motor.values.size(); ++k) {
      const bool fed = k > 2000 - 2 && k < 12000;
      const float amps = motor.values[k];
      supply.values[k] = 12.4F - 0.03F * amps;
      feed.values[k] = fed ? supply.values[k] - static_cast<float>(path_ohm) * amps : 0.0F;
      back.values[k] = static_cast<float>(path_ohm) * amps;
    }
    all = {{Role::MOTOR_CURRENT, motor},
           {Role::SUPPLY_VOLTAGE, supply},
           {Role::FEED_A_VOLTAGE, feed},
           {Role::RETURN_VOLTAGE, back}};
    const auto events = decode(all);
    auto stops = of_kind(events, Kind::STALL_CUTOFF);
    const auto removed = of_kind(events, Kind::MOTOR_STOP);
    stops.insert(stops.end(), removed.begin(), removed.end());
    ASSERT_FALSE(stops.empty()) << row[0];
    EXPECT_NEAR(measure(stops[0], "feed_path_resistance"), path_ohm, 0.02 * path_ohm) << row[0];
    EXPECT_NEAR(measure(stops[0], "return_path_resistance"), path_ohm, 0.02 * path_ohm) << row[0];
  }
  // 8 A through 2 x 4 m of 1.5 mm2 at 12.1 ohm/km drop 0.7744 V (arithmetic on the same table).
  EXPECT_NEAR(8 * 2 * 4e-3 * 12.1, 0.7744, 1e-12);
}

// Opening limits of blade fuses (ISO 8820-3, SAE J1284) as retold in five public places.
TEST(BladeFuse, TestedCurrentsAreTheTables) {
  for (const auto& row : read_rows("blade_limits.csv", 3)) {
    const FuseOpening opening = blade_fuse_opening(row[0] / 100);
    EXPECT_EQ(opening.not_before_s, row[1]) << row[0];
    EXPECT_EQ(opening.not_after_s.value_or(-1), row[2]) << row[0];
  }
}

// A 10 A fuse and a stall of 20 A: after 0.1 s it cannot have opened, after 1 s it may, after 6 s
// it must have. Between the tested currents only the bracket is known.
TEST(BladeFuse, BetweenTestedCurrentsABracket) {
  const FuseOpening twice = blade_fuse_opening(2);
  EXPECT_LT(0.1, twice.not_before_s);
  EXPECT_GT(1.0, twice.not_before_s);
  EXPECT_GT(6.0, *twice.not_after_s);
  const FuseOpening between = blade_fuse_opening(1.8);
  EXPECT_EQ(between.not_before_s, 0.15);
  EXPECT_EQ(*between.not_after_s, 50);
  EXPECT_FALSE(blade_fuse_opening(0.9).not_after_s.has_value());
  EXPECT_EQ(blade_fuse_opening(50).not_before_s, 0);
}

}  // namespace
}  // namespace airlatch
