// text_cells.hpp: cells of delimited text as numbers and times.
#pragma once
#include <array>
#include <cstddef>
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

// The usual cell, fast: [-]digits[.digits] of at most 15 digits, up to `separator` or the line's
// end. Whole numbers below 2^53 over a power of ten are exact before one rounding (Clinger, How to
// read floating point numbers accurately, 1990), so this is the number that parse_value gives.
// Moves `at` behind it, onto the separator or the line's end; false: look at it with parse_value.
struct PlainNumber {
  std::int64_t digits = 0;  // sign and mark left out
  int decimals = 0;
  bool negative = false;
  [[nodiscard]] double value() const;
};

inline bool plain_number(const char*& at, const char* end, char separator, bool comma,
                         PlainNumber& number) {
  constexpr std::ptrdiff_t kMostDigits = 15;
  const char* p = at;
  number.negative = p != end && *p == '-';
  if (number.negative) ++p;
  std::int64_t digits = 0;
  const char* first = p;
  const auto digit = [&] { return p != end && static_cast<unsigned char>(*p - '0') < 10; };
  while (digit() && p - first <= kMostDigits) digits = digits * 10 + (*p++ - '0');
  std::ptrdiff_t seen = p - first;
  number.decimals = 0;
  if (p != end && (*p == '.' || (comma && *p == ','))) {
    first = ++p;
    while (digit() && seen + (p - first) <= kMostDigits) digits = digits * 10 + (*p++ - '0');
    number.decimals = static_cast<int>(p - first);
    seen += p - first;
  }
  if (seen == 0 || seen > kMostDigits || (p != end && *p != separator)) return false;
  number.digits = digits;
  at = p;
  return true;
}

inline double PlainNumber::value() const {
  static constexpr std::array<double, 16> kPower = {1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                                    1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
  const double magnitude = static_cast<double>(digits) / kPower[static_cast<std::size_t>(decimals)];
  return negative ? -magnitude : magnitude;
}

}  // namespace airlatch
