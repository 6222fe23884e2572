// SPDX-License-Identifier: GPL-3.0-or-later
// text_times.hpp: instants as tables write them.
//
// In    numbers in any unit; clock times (12:03, 12:03:04.25, 12:03:04,25, 3:04 PM); elapsed times
//       beyond 24 h; dates in any order, with names of months, with or without a clock time behind
//       them; ISO 8601 with zones.
// Out   nanoseconds, exactly as the digits say, and how fine those are.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "decoders/setup.hpp"
#include "plugin/sources/text_cells.hpp"

namespace airlatch {

inline constexpr std::int64_t kSecond_ns = 1'000'000'000, kDay_ns = 86'400 * kSecond_ns;

struct ParsedTime {
  std::int64_t ns = 0;
  std::int64_t resolution_ns = 1;  // of the digits as written
};
// A number in units of `unit_ns`. Beyond what can be counted it saturates.
std::optional<ParsedTime> parse_count(std::string_view cell, const NumberForm& form,
                                      std::int64_t unit_ns);

// A date, a clock time, or both, as they stand; which group of the date is the day may be open.
struct Moment {
  int groups[3] = {};  // of the date
  int digits[3] = {};  // that each is written with; 0: a month's name
  char mark = 0;       // between them; 0: there is no date
  bool clock = false;
  bool hours = true;      // the clock has them: it is not minutes and seconds alone
  bool half_day = false;  // AM or PM was there
  std::int64_t of_day_ns = 0, resolution_ns = kDay_ns;
  std::optional<int> zone_min = {};
};
std::optional<Moment> parse_moment(std::string_view cell);
// "AM" or "PM" in a cell of its own: added to the moment before it.
bool add_half_day(Moment& moment, std::string_view cell);

// Orders of a date, as bits, counted as DateOrder counts them.
inline constexpr unsigned kAnyOrder = 0b1110;
constexpr unsigned bit_of(DateOrder order) { return 1U << static_cast<unsigned>(order); }
unsigned orders_of(const Moment& moment);  // that give a date
// Days since 1970. Nothing where it is no date in that order.
std::optional<std::int64_t> days_of(const Moment& moment, DateOrder order);

// ISO 8601 date and time (ns since 1970, UTC where no zone is given).
std::optional<ParsedTime> parse_iso_time(std::string_view cell);
bool looks_like_iso_time(std::string_view cell);

}  // namespace airlatch
