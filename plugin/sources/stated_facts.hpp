// SPDX-License-Identifier: GPL-3.0-or-later
// stated_facts.hpp: what the lines above a table, and comments, say of its sampling.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "plugin/sources/table_finder.hpp"

namespace airlatch {

struct StatedFacts {
  std::optional<double> period_s = {};
  std::string period_line = {};  // that says so
  std::optional<std::int64_t> time_unit_ns = {};
  std::string unit_line = {};
  std::optional<char> decimal = {};
};
// Of the first `lines` lines of the head.
StatedFacts stated_facts(const std::vector<HeadLine>& head, std::size_t lines);

}  // namespace airlatch
