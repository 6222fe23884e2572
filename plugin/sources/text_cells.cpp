// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/text_cells.hpp"

#include <array>
#include <charconv>
#include <chrono>
#include <cmath>
#include <cstring>
#include <limits>
#include <string>

namespace airlatch {
namespace {

bool equal_no_case(std::string_view a, std::string_view b) {
  if (a.size() != b.size()) return false;
  for (std::size_t i = 0; i < a.size(); ++i)
    if ((a[i] | 0x20) != (b[i] | 0x20)) return false;
  return true;
}

// Exactly `n` digits at `at`, or -1.
int digits(std::string_view text, std::size_t at, std::size_t n) {
  if (at + n > text.size()) return -1;
  int value = 0;
  for (std::size_t i = at; i < at + n; ++i) {
    if (text[i] < '0' || text[i] > '9') return -1;
    value = value * 10 + (text[i] - '0');
  }
  return value;
}

// Times beyond this are this: still a time, which the reader refuses for what it is.
constexpr std::int64_t kMost_ns = 9'000'000'000'000'000'000;
constexpr double kMost_s = 9e9;

std::int64_t power10(int n) {
  std::int64_t value = 1;
  for (; n > 0; --n) value *= 10;
  return value;
}

// Decimal digits to ns, exactly; `text` is [+-]digits[.digits] in seconds.
std::optional<ParsedTime> plain_seconds(std::string_view text) {
  bool negative = false;
  std::size_t i = 0;
  if (i < text.size() && (text[i] == '-' || text[i] == '+')) negative = text[i++] == '-';
  std::int64_t whole = 0, part = 0;
  std::size_t seen = 0;
  for (; i < text.size() && text[i] >= '0' && text[i] <= '9'; ++i, ++seen) {
    if (whole > 9'000'000'000) return std::nullopt;  // beyond the year 2255
    whole = whole * 10 + (text[i] - '0');
  }
  int decimals = 0;
  if (i < text.size() && text[i] == '.') {
    for (++i; i < text.size() && text[i] >= '0' && text[i] <= '9'; ++i, ++seen)
      if (decimals < 9) part = part * 10 + (text[i] - '0'), ++decimals;
  }
  if (seen == 0 || i != text.size() || whole > 9'000'000'000) return std::nullopt;
  const std::int64_t step = power10(9 - decimals);
  const std::int64_t ns = whole * 1'000'000'000 + part * step;
  return ParsedTime{negative ? -ns : ns, step};
}

}  // namespace

std::string_view trimmed_cell(std::string_view cell) {
  const auto blank = [](char c) { return c == ' ' || c == '\t'; };
  while (!cell.empty() && blank(cell.front())) cell.remove_prefix(1);
  while (!cell.empty() && blank(cell.back())) cell.remove_suffix(1);
  if (cell.size() >= 2 && cell.front() == '"' && cell.back() == '"')
    cell = cell.substr(1, cell.size() - 2);
  return cell;
}

std::optional<double> parse_value(std::string_view cell, bool comma) {
  cell = trimmed_cell(cell);
  constexpr double kInfinity = std::numeric_limits<double>::infinity();
  if (cell.empty()) return std::numeric_limits<double>::quiet_NaN();
  if (cell.front() == '+') cell.remove_prefix(1);
  std::array<char, 64> copy;
  if (comma && cell.find(',') != std::string_view::npos) {
    if (cell.size() > copy.size()) return std::nullopt;
    std::memcpy(copy.data(), cell.data(), cell.size());
    bool once = false;
    for (std::size_t i = 0; i < cell.size(); ++i) {
      if (copy[i] == '.') return std::nullopt;  // thousands separators are not guessed at
      if (copy[i] == ',') {
        if (once) return std::nullopt;
        copy[i] = '.';
        once = true;
      }
    }
    cell = {copy.data(), cell.size()};
  }
  double value = 0;
  const auto [end, error] = std::from_chars(cell.data(), cell.data() + cell.size(), value);
  if (error == std::errc() && end == cell.data() + cell.size()) return value;
  if (error == std::errc::result_out_of_range && end == cell.data() + cell.size())
    return std::nullopt;
  const bool negative = !cell.empty() && cell.front() == '-';
  const std::string_view word = negative ? cell.substr(1) : cell;
  if (equal_no_case(word, "ol") || equal_no_case(word, "overload") ||
      equal_no_case(word, "overflow"))
    return negative ? -kInfinity : kInfinity;
  return std::nullopt;
}

bool looks_like_iso_time(std::string_view cell) {
  cell = trimmed_cell(cell);
  return cell.size() >= 16 && digits(cell, 0, 4) >= 0 && cell[4] == '-' && digits(cell, 5, 2) > 0 &&
         cell[7] == '-' && digits(cell, 8, 2) > 0 && (cell[10] == 'T' || cell[10] == ' ');
}

std::optional<ParsedTime> parse_time(std::string_view cell, bool comma, double unit_s) {
  cell = trimmed_cell(cell);
  std::string copy(cell);
  if (comma)
    for (char& c : copy)
      if (c == ',') c = '.';
  if (!looks_like_iso_time(copy)) {
    if (unit_s == 1)
      if (const auto exact = plain_seconds(copy)) return exact;
    const auto value = parse_value(copy, false);
    if (!value || !std::isfinite(*value)) return std::nullopt;
    if (std::abs(*value * unit_s) > kMost_s)
      return ParsedTime{*value < 0 ? -kMost_ns : kMost_ns, 1'000'000'000};
    const std::size_t point = copy.find('.');
    const auto decimals =
        point == std::string::npos || copy.find_first_of("eE") != std::string::npos
            ? 0.0
            : static_cast<double>(copy.size() - point - 1);
    const double step_ns = std::max(1.0, unit_s * 1e9 * std::pow(10, -decimals));
    return ParsedTime{std::llround(*value * unit_s * 1e9), std::llround(step_ns)};
  }
  const std::string_view text = copy;
  const int hour = digits(text, 11, 2), minute = digits(text, 14, 2);
  if (hour < 0 || hour > 24 || minute < 0 || minute > 59 || text[13] != ':') return std::nullopt;
  const std::chrono::year_month_day date{
      std::chrono::year{digits(text, 0, 4)},
      std::chrono::month{static_cast<unsigned>(digits(text, 5, 2))},
      std::chrono::day{static_cast<unsigned>(digits(text, 8, 2))}};
  if (!date.ok()) return std::nullopt;
  std::size_t i = 16;
  ParsedTime seconds{0, 60'000'000'000};
  if (i < text.size() && text[i] == ':') {
    std::size_t end = i + 1;
    while (end < text.size() && ((text[end] >= '0' && text[end] <= '9') || text[end] == '.')) ++end;
    const auto part = plain_seconds(text.substr(i + 1, end - i - 1));
    if (!part || part->ns > 60'999'999'999)
      return std::nullopt;  // a leap second is one second more
    seconds = *part;
    i = end;
  }
  std::int64_t zone_min = 0;
  if (i < text.size() && text[i] == 'Z') {
    ++i;
  } else if (i < text.size() && (text[i] == '+' || text[i] == '-')) {
    const int zone_hour = digits(text, i + 1, 2);
    const std::size_t colon = i + 3 < text.size() && text[i + 3] == ':' ? 1 : 0;
    const int zone_minute = i + 3 == text.size() ? 0 : digits(text, i + 3 + colon, 2);
    if (zone_hour < 0 || zone_minute < 0) return std::nullopt;
    zone_min = (zone_hour * 60 + zone_minute) * (text[i] == '-' ? -1 : 1);
    i = i + 3 == text.size() ? i + 3 : i + 5 + colon;
  }
  if (i != text.size()) return std::nullopt;
  const std::int64_t days = std::chrono::sys_days{date}.time_since_epoch().count();
  const std::int64_t minutes = (days * 24 + hour) * 60 + minute - zone_min;
  if (std::abs(minutes) > kMost_ns / 60'000'000'000 - 2)
    return ParsedTime{minutes < 0 ? -kMost_ns : kMost_ns, seconds.resolution_ns};
  return ParsedTime{minutes * 60'000'000'000 + seconds.ns, seconds.resolution_ns};
}

}  // namespace airlatch
