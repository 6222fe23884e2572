// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/language.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <utility>

#include "plugin/report/catalogue.hpp"

namespace airlatch {
namespace {

constexpr std::array kMonths = {
    translatable("January"), translatable("February"), translatable("March"),
    translatable("April"),   translatable("May"),      translatable("June"),
    translatable("July"),    translatable("August"),   translatable("September"),
    translatable("October"), translatable("November"), translatable("December")};

// "de_DE.UTF-8" and "de" are "de".
std::string_view language_of(std::string_view locale) {
  return locale.substr(0, locale.find_first_of("_.@-"));
}

bool known(std::string_view code) {
  const auto all = Language::codes();
  return std::find(all.begin(), all.end(), code) != all.end();
}

}  // namespace

Language::Language() : Language("en", '.', nullptr) {}

Language::Language(std::string code, char decimal, Lookup lookup)
    : code_(std::move(code)), decimal_(decimal), lookup_(std::move(lookup)) {}

Language Language::of(std::string_view code) {
  for (const Catalogue& catalogue : catalogues())
    if (code == catalogue.language)
      return {std::string(code), ',',
              [&catalogue](std::string_view english) { return translation(catalogue, english); }};
  return {};
}

Language Language::of_environment() {
  const auto value = [](const char* name) -> std::string_view {
    const char* const text = std::getenv(name);
    return text ? text : "";
  };
  std::string_view locale;
  for (const char* name : {"LC_ALL", "LC_MESSAGES", "LANG"})
    if (locale.empty()) locale = value(name);
  if (locale.empty() || locale == "C" || locale == "POSIX") return {};  // nobody's language
  // LANGUAGE lists languages, the best one first.
  std::string_view list = value("LANGUAGE");
  while (!list.empty()) {
    const std::string_view first = list.substr(0, list.find(':'));
    if (known(language_of(first))) return of(language_of(first));
    list.remove_prefix(std::min(list.size(), first.size() + 1));
  }
  return of(language_of(locale));
}

std::vector<std::string> Language::codes() {
  std::vector<std::string> out = {"en"};
  for (const Catalogue& catalogue : catalogues()) out.emplace_back(catalogue.language);
  return out;
}

std::string Language::say(std::string_view english, Filling filling) const {
  const std::string_view found = lookup_ ? lookup_(english) : std::string_view();
  std::string_view left = found.empty() ? english : found;
  std::string out;
  while (!left.empty()) {
    const std::size_t open = left.find('{'), close = left.find('}', open);
    if (open == std::string_view::npos || close == std::string_view::npos) break;
    out += left.substr(0, open);
    const std::string_view name = left.substr(open + 1, close - open - 1);
    for (const auto& [key, text] : filling)
      if (key == name) out += text;
    left.remove_prefix(close + 1);
  }
  return out + std::string(left);
}

std::string Language::number(double value, int decimals) const {
  std::string text = fmt::format("{:.{}f}", value, std::max(decimals, 0));
  if (decimals < 0) {
    const double step = std::pow(10, -decimals);
    text = fmt::format("{:.0f}", std::round(value / step) * step);
  }
  const bool zero = text.find_first_of("123456789") == std::string::npos;
  if (text[0] == '-') text.replace(0, 1, zero ? "" : "\u2212");
  std::replace(text.begin(), text.end(), '.', decimal_);
  return text;
}

std::string Language::date(const std::string& day) const {
  if (day.size() != 10) return day;
  const int month = std::atoi(day.substr(5, 2).c_str());
  if (month < 1 || month > 12) return day;
  const std::string number = std::to_string(std::atoi(day.substr(8, 2).c_str()));
  return say(translatable("{day} {month} {year}"),
             {{"day", number == "1" ? say("1") : number},
              {"month", say(kMonths[static_cast<std::size_t>(month - 1)])},
              {"year", day.substr(0, 4)}});
}

}  // namespace airlatch
