// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/units.hpp"

#include <algorithm>
#include <array>
#include <cctype>

namespace airlatch {
namespace {

constexpr double kGravity = 9.80665;
constexpr double kPsi_kpa = 0.45359237 * kGravity / (0.0254 * 0.0254) / 1000;
constexpr double kMercury = 13595.1;  // kg/m3
constexpr double kMmHg_kpa = kMercury * kGravity * 0.001 / 1000;

struct Row {
  std::string_view name;
  Dimension dimension;
  double scale;
  double offset = 0;
};

// Whole names, looked up in lower case.
constexpr std::array kNames = {Row{"psi", Dimension::kPressure, kPsi_kpa},
                               Row{"psig", Dimension::kPressure, kPsi_kpa},
                               Row{"inhg", Dimension::kPressure, kMmHg_kpa * 25.4},
                               Row{"mmhg", Dimension::kPressure, kMmHg_kpa},
                               Row{"torr", Dimension::kPressure, 101.325 / 760},
                               Row{"mbar", Dimension::kPressure, 0.1},
                               Row{"bar", Dimension::kPressure, 100},
                               Row{"kpa", Dimension::kPressure, 1},
                               Row{"hpa", Dimension::kPressure, 0.1},
                               Row{"°c", Dimension::kTemperature, 1},
                               Row{"degc", Dimension::kTemperature, 1},
                               Row{"c", Dimension::kTemperature, 1},
                               Row{"k", Dimension::kTemperature, 1, -273.15},
                               Row{"°f", Dimension::kTemperature, 5.0 / 9, -160.0 / 9},
                               Row{"degf", Dimension::kTemperature, 5.0 / 9, -160.0 / 9},
                               Row{"volt", Dimension::kVoltage, 1},
                               Row{"volts", Dimension::kVoltage, 1},
                               Row{"amp", Dimension::kCurrent, 1},
                               Row{"amps", Dimension::kCurrent, 1},
                               Row{"min", Dimension::kTime, 60},
                               Row{"sec", Dimension::kTime, 1},
                               Row{"h", Dimension::kTime, 3600}};

// Bases that take an SI prefix.
constexpr std::array kBases = {
    Row{"Pa", Dimension::kPressure, 0.001}, Row{"bar", Dimension::kPressure, 100},
    Row{"V", Dimension::kVoltage, 1},       Row{"v", Dimension::kVoltage, 1},
    Row{"A", Dimension::kCurrent, 1},       Row{"a", Dimension::kCurrent, 1},
    Row{"s", Dimension::kTime, 1}};

std::optional<double> prefix(std::string_view text) {
  if (text.empty()) return 1;
  if (text == "m") return 1e-3;
  if (text == "u" || text == "\u00b5" || text == "\u03bc") return 1e-6;
  if (text == "n") return 1e-9;
  if (text == "k" || text == "K") return 1e3;
  if (text == "M") return 1e6;
  if (text == "h") return 1e2;
  return std::nullopt;
}

}  // namespace

std::optional<Unit> parse_unit(std::string_view text) {
  while (!text.empty() && text.front() == ' ') text.remove_prefix(1);
  while (!text.empty() && text.back() == ' ') text.remove_suffix(1);
  std::string lower(text);
  std::transform(lower.begin(), lower.end(), lower.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  for (const Row& row : kNames)
    if (lower == row.name) return Unit{row.dimension, row.scale, row.offset};
  for (const Row& row : kBases)
    if (text.ends_with(row.name))
      if (const auto factor = prefix(text.substr(0, text.size() - row.name.size())))
        return Unit{row.dimension, row.scale * *factor, 0};
  return std::nullopt;
}

Dimension dimension_of(Role role) {
  switch (role) {
    case Role::MOTOR_CURRENT:
      return Dimension::kCurrent;
    case Role::LINE_PRESSURE:
    case Role::BRANCH_PRESSURE:
      return Dimension::kPressure;
    case Role::AIR_TEMPERATURE:
      return Dimension::kTemperature;
    case Role::UNSPECIFIED:
    case Role::SUPPLY_VOLTAGE:
    case Role::FEED_A_VOLTAGE:
    case Role::FEED_B_VOLTAGE:
    case Role::RETURN_VOLTAGE:
    case Role::COMMAND_LEVEL:
    case Role::FUSE_VOLTAGE:
      break;
  }
  return Dimension::kVoltage;
}

const char* unit_of(Role role) { return base_unit(dimension_of(role)); }

const char* base_unit(Dimension dimension) {
  switch (dimension) {
    case Dimension::kCurrent:
      return "A";
    case Dimension::kPressure:
      return "kPa";
    case Dimension::kTemperature:
      return "°C";
    case Dimension::kTime:
      return "s";
    case Dimension::kVoltage:
      break;
  }
  return "V";
}

}  // namespace airlatch
