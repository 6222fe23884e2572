// SPDX-License-Identifier: GPL-3.0-or-later
// units.hpp: units as people write them, as factor and offset to the role units V, A, kPa, degC.
//
// How   exact definitions: bar = 100 kPa; psi = 0.45359237 kg x 9.80665 m/s2 / (0.0254 m)2; inHg
//       and mmHg from 13595.1 kg/m3 x 9.80665 m/s2 (conventional, 0 degC); columns of water from
//       1000 kg/m3 (conventional); kgf/cm2 = at = 98.0665 kPa; SI prefixes.
#pragma once
#include <optional>
#include <string>
#include <string_view>

#include "decoders/setup.hpp"

namespace airlatch {

enum class Dimension { kVoltage, kCurrent, kPressure, kTemperature, kTime };

struct Unit {
  Dimension dimension = Dimension::kVoltage;
  double scale = 1;  // role value = scale * written + offset; times: seconds
  double offset = 0;
  bool absolute = false;  // "psia", "bar abs": counted from a vacuum
};

// Nothing where the text is no unit of these. Case counts only where it distinguishes prefixes (mA
// is milli, MA mega).
std::optional<Unit> parse_unit(std::string_view text);
// A unit of something that no role measures (ohm, Hz, %, rpm ...), or of nothing (-, logic).
bool is_other_unit(std::string_view text);
const char* known_units();  // for people who wrote another
Dimension dimension_of(Role role);
const char* base_unit(Dimension dimension);  // that values are handed out in
const char* unit_of(Role role);              // "V", "A", "kPa", "°C"

}  // namespace airlatch
