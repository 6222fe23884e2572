// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/stated_facts.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>

#include "plugin/sources/text_words.hpp"
#include "plugin/sources/units.hpp"

namespace airlatch {
namespace {

std::string lower_case(std::string_view text) {
  std::string out(text);
  std::transform(out.begin(), out.end(), out.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return out;
}

bool is_digit(char c) { return c >= '0' && c <= '9'; }
bool is_letter(char c) { return std::isalpha(static_cast<unsigned char>(c)) || (c & 0x80) != 0; }

struct Quantity {
  double value = 0;
  std::string unit = {};
  bool fraction = false;
};
// The first number of the text, and the unit behind it or in brackets before it.
std::optional<Quantity> quantity_in(std::string_view text) {
  std::size_t at = 0;
  while (at < text.size() && !is_digit(text[at])) ++at;
  if (at == text.size()) return std::nullopt;
  std::string number(text.substr(at));
  const bool comma = number.find('.') > number.find(',') && number.find(',') != std::string::npos &&
                     is_digit(number[std::min(number.find(',') + 1, number.size() - 1)]);
  if (comma) number[number.find(',')] = '.';
  Quantity out;
  const auto [end, error] =
      std::from_chars(number.data(), number.data() + number.size(), out.value);
  if (error != std::errc()) return std::nullopt;
  const std::string_view rest(end, static_cast<std::size_t>(number.data() + number.size() - end));
  out.fraction = std::string_view(number.data(), static_cast<std::size_t>(end - number.data()))
                     .find_first_of(".e") != std::string_view::npos;
  const auto unit_at = [](std::string_view from) {
    std::size_t begin = 0;
    while (begin < from.size() && !is_letter(from[begin])) {
      if (is_digit(from[begin])) return std::string();
      ++begin;
    }
    std::size_t to = begin;
    while (to < from.size() && (is_letter(from[to]) || from[to] == '/')) ++to;
    return std::string(from.substr(begin, to - begin));
  };
  out.unit = unit_at(rest);
  if (const std::size_t open = text.substr(0, at).find_first_of("([");
      open != std::string_view::npos)
    out.unit = unit_at(text.substr(open, at - open));
  return out;
}

// Times a second, of a unit of frequency.
std::optional<double> hertz(const std::string& unit) {
  const std::string name = lower_case(unit);
  for (const char* const end : {"hz", "s/s", "sa/s", "sps", "samples/s", "samples/sec", "hertz"})
    if (name.ends_with(end)) {
      const std::string_view prefix =
          std::string_view(name).substr(0, name.size() - std::string_view(end).size());
      if (prefix.empty()) return 1;
      if (prefix == "k") return 1e3;
      if (prefix == "m") return unit.front() == 'm' ? 1e-3 : 1e6;
      if (prefix == "g") return 1e9;
    }
  return std::nullopt;
}

std::optional<double> seconds(const std::string& unit) {
  const auto known = parse_unit(unit);
  if (!known || known->dimension != Dimension::kTime) return std::nullopt;
  return known->scale;
}

// What stands behind the words in the line as it was written.
std::string_view behind(std::string_view line, const std::string& words) {
  const std::string last = words.substr(words.rfind(' ') + 1);
  const std::string tail = last.substr(last.size() > 6 ? last.size() - 6 : 0);
  const std::size_t at = lower_case(line).find(tail);
  return at == std::string::npos ? std::string_view() : line.substr(at + tail.size());
}

std::optional<double> period_of(Stated what, std::string_view text) {
  const auto quantity = quantity_in(text);
  if (!quantity || !(quantity->value > 0)) return std::nullopt;
  if (const auto rate = hertz(quantity->unit)) return 1 / (quantity->value * *rate);
  if (const auto each = seconds(quantity->unit)) return quantity->value * *each;
  if (what == Stated::kRate) return 1 / quantity->value;
  // A bare number is seconds where it is written as a part of them.
  return quantity->fraction ? std::optional(quantity->value) : std::nullopt;
}

// "time in ms", "Zeit [ms]", without a number between.
std::optional<std::int64_t> unit_beside_time(const std::string& words) {
  std::size_t since = 100;
  for (std::size_t at = 0; at < words.size();) {
    const std::size_t end = std::min(words.find(' ', at), words.size());
    const std::string word = words.substr(at, end - at);
    at = end + 1;
    if (!word.empty() && is_digit(word.front())) since = 100;
    const auto unit = seconds(word);
    if (since < 4 && unit && word != "d" && word != "h")
      return static_cast<std::int64_t>(std::llround(*unit * 1e9));
    ++since;
    if (means(word, Meaning::kTime) && word.size() > 1 && !unit) since = 0;
  }
  return std::nullopt;
}

}  // namespace

StatedFacts stated_facts(const std::vector<HeadLine>& head, std::size_t lines) {
  StatedFacts out;
  for (std::size_t k = 0; k < lines; ++k) {
    const std::string_view line = head[k].text;
    const std::string words = folded(line.substr(0, 400));
    const auto stated = stated_in(words);
    if (stated && (stated->what == Stated::kRate || stated->what == Stated::kInterval)) {
      const auto period_s = period_of(stated->what, behind(line, words.substr(0, stated->end)));
      if (period_s && !out.period_s) {
        out.period_s = period_s;
        out.period_line = as_utf8(line.substr(0, 80));
      }
    } else if (stated && stated->what == Stated::kDecimal) {
      const std::string_view rest = behind(line, words.substr(0, stated->end));
      const std::size_t at = rest.find_first_of(".,", rest.starts_with(',') ? 1 : 0);
      if (at != std::string_view::npos) out.decimal = rest[at];
    } else if (!out.time_unit_ns) {
      std::optional<std::int64_t> unit;
      if (stated && stated->what == Stated::kTimeUnit) {
        const std::string rest = words.substr(std::min(stated->end + 1, words.size()));
        if (const auto each = seconds(rest.substr(0, rest.find(' '))))
          unit = static_cast<std::int64_t>(std::llround(*each * 1e9));
      } else if (is_no_row(line, '\0') || line.find(':') != std::string_view::npos) {
        unit = unit_beside_time(words);
      }
      if (unit) {
        out.time_unit_ns = unit;
        out.unit_line = as_utf8(line.substr(0, 80));
      }
    }
  }
  return out;
}

}  // namespace airlatch
