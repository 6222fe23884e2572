// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/text_cells.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstring>
#include <limits>

#include "plugin/sources/units.hpp"

namespace airlatch {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();
constexpr double kMissing = std::numeric_limits<double>::quiet_NaN();
constexpr double kOverload = 9.9e37;  // SCPI-99, 7.2.1: infinity; beyond it, not a number
constexpr std::string_view kHardBlank = "\u00a0", kThinBlank = "\u202f", kMinus = "\u2212";

bool equal_no_case(std::string_view a, std::string_view b) {
  if (a.size() != b.size()) return false;
  for (std::size_t i = 0; i < a.size(); ++i) {
    const bool letter = (a[i] >= 'A' && a[i] <= 'Z') || (a[i] >= 'a' && a[i] <= 'z');
    if (letter ? (a[i] | 0x20) != (b[i] | 0x20) : a[i] != b[i]) return false;
  }
  return true;
}

bool is_digit(char c) { return c >= '0' && c <= '9'; }

// Bytes of a blank that a number may hold between its thousands; 0: none is here.
std::size_t blank_at(std::string_view text, std::size_t at) {
  if (text[at] == ' ' || text[at] == '\'') return 1;
  const std::string_view left = text.substr(at);
  if (left.starts_with(kHardBlank)) return kHardBlank.size();
  if (left.starts_with(kThinBlank)) return kThinBlank.size();
  return text[at] == '\xa0' ? 1 : 0;  // in one-byte letters
}

std::string_view without_blanks(std::string_view text) {
  const auto blank = [](std::string_view t, std::size_t at) { return blank_at(t, at) > 0; };
  while (!text.empty() && text.front() != '\'' && blank(text, 0))
    text.remove_prefix(blank_at(text, 0));
  while (!text.empty() && (text.back() == ' ' || text.back() == '\xa0'))
    text.remove_suffix(text.size() >= 2 && text.ends_with(kHardBlank) ? 2 : 1);
  return text;
}

std::optional<double> overload(std::string_view text) {
  double sign = 1;
  if (!text.empty() && (text.front() == '+' || text.front() == '-')) {
    if (text.front() == '-' && text.size() > 1 && text[1] != '-') sign = -1;
    if (text.size() > 1 && text[1] != '-') text.remove_prefix(1);
  }
  text = without_blanks(text);
  if (text.size() >= 4 && text.find_first_not_of('-') == std::string_view::npos) return kInfinity;
  if (text.size() >= 3 && text.find_first_not_of('#') == std::string_view::npos) return kInfinity;
  for (const char* const word :
       {"ol",         ".ol",  "o.l",      "o.l.",     "0l",    "0.l",    ".0l",   "ovld",
        "ovl",        "over", "overload", "overflow", "ovflw", "ovrflw", "ovrng", "overrange",
        "over range", "inf",  "infinity", "1 .",      "1. ",   "1  ."})
    if (equal_no_case(text, word)) return sign * kInfinity;
  for (const char* const word : {"under", "udfl", "underrange", "under range"})
    if (equal_no_case(text, word)) return -kInfinity;
  return std::nullopt;
}

// The digits at the front with their marks made plain: what from_chars reads. The bytes it took.
struct PlainNumber {
  std::array<char, 64> text;
  std::size_t size = 0, taken = 0;
};
bool make_plain(std::string_view cell, const NumberForm& form, PlainNumber& out) {
  std::size_t at = 0;
  bool fraction = false, grouped = false;
  if (cell[0] == '-' || cell[0] == '+') {
    if (cell[0] == '-') out.text[out.size++] = '-';
    at = 1;
  }
  while (at < cell.size() && out.size + 1 < out.text.size()) {
    const char c = cell[at];
    if (is_digit(c)) {
      out.text[out.size++] = c;
      out.taken = ++at;
    } else if (c == form.decimal && !fraction) {
      fraction = true;
      out.text[out.size++] = '.';
      out.taken = ++at;
    } else if ((c == 'e' || c == 'E') && out.taken > 0) {
      std::size_t to = at + 1;
      if (to < cell.size() && (cell[to] == '+' || cell[to] == '-')) ++to;
      if (to >= cell.size() || !is_digit(cell[to])) break;  // a unit's first letter
      out.text[out.size++] = 'e';
      if (cell[at + 1] == '-') out.text[out.size++] = '-';
      for (; to < cell.size() && is_digit(cell[to]) && out.size + 1 < out.text.size(); ++to)
        out.text[out.size++] = cell[to];
      out.taken = to;
      break;
    } else {
      const std::size_t gap = form.thousands == 0 || fraction ? 0
                              : form.thousands == ' '         ? blank_at(cell, at)
                              : c == form.thousands           ? 1
                                                              : 0;
      // A mark between thousands has three digits behind it.
      if (gap == 0 || at + gap + 3 > cell.size()) break;
      const std::string_view group = cell.substr(at + gap, 3);
      if (!std::all_of(group.begin(), group.end(), is_digit)) break;
      if (at + gap + 3 < cell.size() && is_digit(cell[at + gap + 3])) break;
      // And one to three before it, which are no lone zero.
      const std::size_t sign = out.size > 0 && out.text[0] == '-' ? 1 : 0, before = out.size - sign;
      if (before == 0 || (!grouped && before > 3)) break;
      if (before == 1 && out.text[sign] == '0' && group != "000") break;
      grouped = true;
      at += gap;
    }
  }
  return out.taken > 0;
}

std::optional<CellValue> number_with_unit(std::string_view cell, const NumberForm& form) {
  double value = 0;
  std::string_view rest;
  const bool as_it_is = form.decimal == '.' && form.thousands == 0;
  const char* const from = cell.data() + (as_it_is && cell.front() == '+' ? 1 : 0);
  if (as_it_is) {
    const auto [end, error] = std::from_chars(from, cell.data() + cell.size(), value);
    if (error != std::errc()) return std::nullopt;
    rest = {end, static_cast<std::size_t>(cell.data() + cell.size() - end)};
  } else {
    PlainNumber plain;
    if (!make_plain(cell, form, plain)) return std::nullopt;
    const char* const to = plain.text.data() + plain.size;
    const auto [end, error] = std::from_chars(plain.text.data(), to, value);
    if (error != std::errc() || end != to) return std::nullopt;
    rest = cell.substr(plain.taken);
  }
  if (std::abs(value) >= kOverload) value = value < 0 ? -kInfinity : kInfinity;
  rest = without_blanks(rest);
  if (rest.empty()) return CellValue{value, {}};
  if (is_digit(rest.front()) || rest.front() == '.' || rest.front() == ',') return std::nullopt;
  if (!parse_unit(rest) && !is_other_unit(rest)) return std::nullopt;
  return CellValue{value, rest};
}

}  // namespace

std::string_view trimmed_cell(std::string_view cell) {
  const auto blank = [](char c) { return c == ' ' || c == '\t'; };
  const auto trim = [&] {
    while (!cell.empty() && blank(cell.front())) cell.remove_prefix(1);
    while (!cell.empty() && blank(cell.back())) cell.remove_suffix(1);
  };
  trim();
  if (cell.size() >= 2 && cell.front() == '"' && cell.back() == '"') {
    cell = cell.substr(1, cell.size() - 2);
    trim();
  }
  return cell;
}

bool is_missing(std::string_view cell) {
  cell = without_blanks(trimmed_cell(cell));
  if (cell.empty()) return true;
  if (cell.size() > 9 || is_digit(cell.front())) return false;
  const bool sign = cell.front() == '-' || cell.front() == '+';
  if (sign && cell.size() > 1 && (is_digit(cell[1]) || cell[1] == '.')) return false;
  for (const char* const word :
       {"na",   "n/a",  "#n/a", "#na",  "nan",    "-nan",   "+nan",    "nan(ind)",
        "null", "none", "nil",  "-",    "--",     "---",    "missing", "n.a.",
        "?",    "bad",  "\\n",  "<na>", "#null!", "#value!"})
    if (equal_no_case(cell, word)) return true;
  return false;
}

std::optional<CellValue> read_value(std::string_view cell, const NumberForm& form) {
  cell = without_blanks(trimmed_cell(cell));
  if (cell.empty()) return CellValue{kMissing, {}};
  const char first = cell.front();
  if (is_digit(first) || first == '-' || first == '+' || first == form.decimal)
    if (const auto value = number_with_unit(cell, form); value && !std::isnan(value->value)) {
      // "0L" is how a display writes OL.
      if (value->unit.empty() || !overload(cell)) return value;
    }
  if (is_missing(cell)) return CellValue{kMissing, {}};
  if (const auto over = overload(cell)) return CellValue{*over, {}};
  if (cell.starts_with(kMinus)) {
    auto value = read_value(cell.substr(kMinus.size()), form);
    if (value) value->value = -value->value;
    return value;
  }
  return std::nullopt;
}

std::optional<double> parse_value(std::string_view cell, bool comma) {
  std::optional<CellValue> value = read_value(cell, {});
  // A column of decimal commas may hold a point here and there, but not both in one cell.
  if (comma && (!value || !value->unit.empty())) value = read_value(cell, {.decimal = ','});
  if (!value || !value->unit.empty()) return std::nullopt;
  return value->value;
}

// The forms of [+-]digits[mark digits], as nearly all cells are.
std::optional<CellForms> forms_of_plain(std::string_view cell, bool inner_blanks) {
  std::size_t at = !cell.empty() && (cell[0] == '-' || cell[0] == '+') ? 1 : 0;
  const std::size_t from = at;
  while (at < cell.size() && is_digit(cell[at])) ++at;
  const std::size_t before = at - from;
  const unsigned usable = inner_blanks ? kAllForms : kAllForms & 0x0fU;
  if (before > 0 && at == cell.size()) return CellForms{usable, true, false, false};
  if (at == cell.size() || (cell[at] != '.' && cell[at] != ',')) return std::nullopt;
  const bool point = cell[at] == '.';
  const std::string_view fraction = cell.substr(at + 1);
  if (before + fraction.size() == 0 || !std::all_of(fraction.begin(), fraction.end(), is_digit))
    return std::nullopt;
  unsigned forms = point ? 0b010101U : 0b101010U;
  const bool lone_zero = before == 1 && cell[from] == '0' && fraction != "000";
  if (fraction.size() == 3 && before >= 1 && before <= 3 && !lone_zero)
    forms |= point ? 0b001000U : 0b000100U;
  return CellForms{forms & usable, true, true, false};
}

CellForms forms_of(std::string_view cell, bool inner_blanks) {
  cell = without_blanks(trimmed_cell(cell));
  CellForms out;
  if (const auto plain = forms_of_plain(cell, inner_blanks)) return *plain;
  const bool digits = std::any_of(cell.begin(), cell.end(), is_digit);
  if (is_missing(cell) || overload(cell)) return {kAllForms, false, false, false};
  if (!digits) return out;
  for (unsigned k = 0; k < std::size(kNumberForms); ++k) {
    if (kNumberForms[k].thousands == ' ' && !inner_blanks) continue;
    if (const auto value = read_value(cell, kNumberForms[k])) {
      out.forms |= 1U << k;
      out.with_unit |= !value->unit.empty();
    }
  }
  out.number = out.forms != 0;
  const std::size_t end = cell.find_first_of("eE");
  const std::string_view mantissa = cell.substr(0, end);
  out.marked = mantissa.find_first_of(".,'") != std::string_view::npos ||
               (inner_blanks && !out.with_unit && cell.find(' ') != std::string_view::npos);
  return out;
}

}  // namespace airlatch
