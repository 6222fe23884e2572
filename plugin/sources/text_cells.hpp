// text_cells.hpp: cells of delimited text as numbers and times.
#pragma once
#include <array>
#include <bit>
#include <cstddef>
#include <cstdint>
#include <cstring>
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

// The usual cell, fast: [-]digits[.digits], 7 before the mark and
// 15 in all at most, up to `separator` or the line's end.
// Whole numbers below 2^53 over a power of ten are exact before one rounding (Clinger, How to read
// floating point numbers accurately, 1990), so this is the number that parse_value gives. Moves
// `at` behind it, onto the separator or the line's end; false: look at it with parse_value.
struct PlainNumber {
  std::int64_t digits = 0;  // sign and mark left out
  int decimals = 0;
  bool negative = false;
  [[nodiscard]] double value() const;
};

// How many of the 8 characters at `p` are digits before the first that is none; their number. Eight
// at once in one register: no branch for a processor to guess wrong (little-endian machines).
struct DigitRun {
  int count = 0;
  std::int64_t value = 0;
};
inline DigitRun digit_run(const char* p) {
  std::uint64_t bytes = 0;
  std::memcpy(&bytes, p, sizeof bytes);
  bytes ^= 0x3030303030303030U;  // digits become 0 to 9
  const std::uint64_t others =
      (bytes | ((bytes & 0x7f7f7f7f7f7f7f7fU) + 0x7676767676767676U)) & 0x8080808080808080U;
  const int count = others ? std::countr_zero(others) / 8 : 8;
  if (count == 0) return {};
  bytes <<= 64 - 8 * count;  // zeros before them
  bytes = bytes * 10 + (bytes >> 8);
  const std::uint64_t value = ((bytes & 0x000000ff000000ffU) * 0x000f424000000064U +
                               (bytes >> 16 & 0x000000ff000000ffU) * 0x0000271000000001U) >>
                              32;
  return {count, static_cast<std::int64_t>(value)};
}

// REQUIRES: kReadBehind bytes behind `end` may be read.
constexpr std::size_t kReadBehind = 8;
inline bool plain_number(const char*& at, const char* end, char separator, bool comma,
                         PlainNumber& number) {
  constexpr int kMostDigits = 15;
  static constexpr std::array<std::int64_t, 9> kPower = {
      1, 10, 100, 1'000, 10'000, 100'000, 1'000'000, 10'000'000, 100'000'000};
  const char* p = at;
  number.negative = p < end && *p == '-';
  p += number.negative ? 1 : 0;
  const DigitRun whole = digit_run(p);
  if (whole.count == 8) return false;
  p += whole.count;
  number.digits = whole.value;
  number.decimals = 0;
  if (p < end && (*p == '.' || (comma && *p == ','))) {
    DigitRun part = digit_run(++p);
    p += part.count;
    number.digits = whole.value * kPower[static_cast<std::size_t>(part.count)] + part.value;
    number.decimals = part.count;
    if (part.count == 8 && p < end) {
      part = digit_run(p);
      p += part.count;
      number.decimals += part.count;
      if (whole.count + number.decimals > kMostDigits) return false;
      number.digits = number.digits * kPower[static_cast<std::size_t>(part.count)] + part.value;
    }
  }
  if (whole.count + number.decimals == 0 || p > end || (p < end && *p != separator)) return false;
  at = p;
  return true;
}

inline double PlainNumber::value() const {
  static constexpr std::array<double, 16> kPower = {1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                                    1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
  static constexpr std::array<double, 2> kSign = {1, -1};
  return static_cast<double>(digits) / kPower[static_cast<std::size_t>(decimals)] *
         kSign[negative ? 1 : 0];
}

}  // namespace airlatch
