// SPDX-License-Identifier: GPL-3.0-or-later
// role_names.hpp: what a channel's name says it measures, in the languages of text_words.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "decoders/setup.hpp"
#include "plugin/sources/units.hpp"

namespace airlatch {

struct NameSays {
  std::optional<Role> role = {};            // "battery voltage": the supply
  std::optional<Dimension> dimension = {};  // "Druck", "tension", "U1", or a unit within: "p_kpa"
  std::string unit = {};                    // that unit, as it stands there
  bool other = false;  // something no role measures: a set point, a speed, a number of the row
};
NameSays what_name_says(const std::string& name);

}  // namespace airlatch
