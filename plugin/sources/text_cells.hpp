// SPDX-License-Identifier: GPL-3.0-or-later
// text_cells.hpp: cells of delimited text as numbers and times.
#pragma once
#include <cstdint>
#include <optional>
#include <string_view>

namespace airlatch {

std::string_view trimmed_cell(std::string_view cell);  // blanks and one pair of quotes removed

// A number with decimal point, or comma where `comma` says so. Empty and `nan` give NaN; `inf`,
// `OL`, `overload`, with a sign or without, give infinity. Nothing for other text.
std::optional<double> parse_value(std::string_view cell, bool comma);

struct ParsedTime {
  std::int64_t ns = 0;
  std::int64_t resolution_ns = 1;  // of the digits as written
};
// A time in units of `unit_s` seconds, or ISO 8601 date and time (then ns of the epoch, UTC where
// no zone is given). Nothing for other text.
std::optional<ParsedTime> parse_time(std::string_view cell, bool comma, double unit_s);
bool looks_like_iso_time(std::string_view cell);

}  // namespace airlatch
