// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/sample_lines.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>
#include <utility>

#include "plugin/sources/text_times.hpp"

namespace airlatch {
namespace {

constexpr double kLatest_s = 4e9;  // as nanoseconds within 64 bits, differences included
constexpr std::ptrdiff_t kMostNested = 1000;
constexpr auto kReplace = nlohmann::json::error_handler_t::replace;
constexpr float kMissing = std::numeric_limits<float>::quiet_NaN();

[[noreturn]] void refuse_time() {
  throw LineError("the time is not within 4e9 s of its origin (--time-unit: in which unit it is)");
}

std::int64_t to_ns(double time_s) {
  if (!(std::abs(time_s) <= kLatest_s)) refuse_time();
  // Whole seconds apart, so that times counted since 1970 lose nothing to the product.
  const double whole = std::floor(time_s);
  return static_cast<std::int64_t>(whole) * 1'000'000'000 + std::llround((time_s - whole) * 1e9);
}

float value_of(const nlohmann::json& value) {
  if (value.is_null()) return kMissing;
  if (value.is_boolean()) return value.get<bool>() ? 1.0F : 0.0F;
  if (!value.is_number()) throw LineError("a value is not a number");
  return value.get<float>();
}

double number_of(const nlohmann::json& line, const char* key) {
  const auto at = line.find(key);
  if (at == line.end() || !at->is_number())
    throw LineError(std::string("\"") + key + "\" is missing or not a number");
  return at->get<double>();
}

// Of a unit of time, its nanoseconds.
std::int64_t ns_of(TimeUnit unit) {
  switch (unit) {
    case TimeUnit::kSeconds:
      return 1'000'000'000;
    case TimeUnit::kMilliseconds:
      return 1'000'000;
    case TimeUnit::kMicroseconds:
      return 1'000;
    case TimeUnit::kNanoseconds:
    case TimeUnit::kIso:
      break;
  }
  return 1;
}

std::int64_t whole_to_ns(std::int64_t time, TimeUnit unit) {
  const std::int64_t each_ns = ns_of(unit);
  if (std::abs(static_cast<double>(time)) * static_cast<double>(each_ns) > kLatest_s * 1e9)
    refuse_time();
  return time * each_ns;
}

// "time_s", in seconds, else "time", in `unit`; whole numbers lose nothing.
std::int64_t time_of(const nlohmann::json& line, TimeUnit unit) {
  if (line.contains("time_s")) return to_ns(number_of(line, "time_s"));
  const auto at = line.find("time");
  if (at == line.end()) throw LineError("\"time_s\" is missing");
  if (unit == TimeUnit::kIso) {
    const std::string text = at->is_string() ? at->get<std::string>() : "";
    const auto time = parse_iso_time(text);
    if (!time) throw LineError("\"time\" is no date and time of ISO 8601");
    return whole_to_ns(time->ns, unit);
  }
  if (at->is_number_integer() && !at->is_number_unsigned())
    return whole_to_ns(at->get<std::int64_t>(), unit);
  if (at->is_number_unsigned() && at->get<std::uint64_t>() < std::uint64_t{1} << 63)
    return whole_to_ns(at->get<std::int64_t>(), unit);
  return to_ns(number_of(line, "time") * 1e-9 * static_cast<double>(ns_of(unit)));
}

// Values in the unit that the line gives, if it does.
void apply_unit(const nlohmann::json& line, LineSamples& samples) {
  const auto at = line.find("unit");
  if (at == line.end() || at->is_null()) return;
  const auto unit = at->is_string() ? parse_unit(at->get<std::string>()) : std::nullopt;
  if (!unit || unit->dimension == Dimension::kTime)
    throw LineError("the unit " + at->dump(-1, ' ', false, kReplace) + " is not known");
  samples.unit = *unit;
  if (unit->scale == 1 && unit->offset == 0) return;
  for (float& value : samples.values)
    value = static_cast<float>(unit->scale * static_cast<double>(value) + unit->offset);
}

// A clock of this period: of a whole number of samples a second where it is one within rounding.
SampleClock clock_of(double period_s, std::int64_t start_ns) {
  if (!(period_s >= 1e-9) || !(period_s <= 1e6))
    throw LineError("\"period_s\" must be 1e-9 to 1e6");
  const double rate = 1 / period_s;
  if (rate >= 1 && std::abs(rate - std::round(rate)) < 1e-9 * rate)
    return SampleClock::of_rate(std::llround(rate), 1, start_ns);
  // Otherwise to a thousandth of a nanosecond.
  return {start_ns, std::llround(period_s * 1e12), 1000};
}

void read_values(const nlohmann::json& line, LineSamples& samples) {
  if (const auto values = line.find("values"); values != line.end()) {
    if (!values->is_array()) throw LineError("\"values\" is not a list");
    for (const auto& value : *values) samples.values.push_back(value_of(value));
    const double period_s = number_of(line, "period_s");
    samples.clock = clock_of(period_s, samples.time_ns);
    to_ns(static_cast<double>(samples.time_ns) * 1e-9 +
          period_s * static_cast<double>(samples.values.size()));
  } else if (const auto value = line.find("value"); value != line.end()) {
    samples.values.push_back(value_of(*value));
  } else {
    throw LineError("\"value\" or \"values\" is missing");
  }
}

// Line protocol: `text` up to an unescaped one of `ends`, with backslashes taken out.
std::string word(std::string_view& text, std::string_view ends) {
  std::string out;
  while (!text.empty() && ends.find(text.front()) == std::string_view::npos) {
    if (text.front() == '\\' && text.size() > 1) text.remove_prefix(1);
    out += text.front();
    text.remove_prefix(1);
  }
  return out;
}

void skip(std::string_view& text, char c) {
  while (!text.empty() && text.front() == c) text.remove_prefix(1);
}

float field_value(std::string_view& text, const std::string& key) {
  if (!text.empty() && text.front() == '"')
    throw LineError("field " + key + " is text, not a number");
  const std::string value = word(text, ", ");
  if (value == "t" || value == "T" || value == "true" || value == "True" || value == "TRUE")
    return 1;
  if (value == "f" || value == "F" || value == "false" || value == "False" || value == "FALSE")
    return 0;
  double number = 0;
  const char *from = value.data(), *to = from + value.size();
  const auto [end, error] = std::from_chars(from + (value.starts_with('+') ? 1 : 0), to, number);
  const bool whole = end == to || (end + 1 == to && (*end == 'i' || *end == 'u'));
  if (error != std::errc() || !whole) throw LineError("field " + key + " is not a number");
  return static_cast<float>(number);
}

}  // namespace

std::vector<LineSamples> parse_json_line(std::string_view text, TimeUnit unit) {
  if (text.find_first_not_of(" \t\r") == std::string_view::npos) return {};
  // Each opened list or object costs far more memory than its byte.
  if (std::count(text.begin(), text.end(), '[') + std::count(text.begin(), text.end(), '{') >
      kMostNested)
    throw LineError("this holds very many lists, and is no sample");
  const auto line = nlohmann::json::parse(text, nullptr, false);
  if (line.is_discarded() || !line.is_object()) throw LineError("this is not a JSON object");
  const auto channel = line.find("channel");
  if (channel == line.end() || !channel->is_string())
    throw LineError("\"channel\" is missing or not text");
  LineSamples samples;
  samples.channel = channel->get<std::string>();
  samples.time_ns = time_of(line, unit);
  read_values(line, samples);
  apply_unit(line, samples);
  if (samples.values.empty()) return {};
  return {std::move(samples)};
}

std::vector<LineSamples> parse_line_protocol(std::string_view text, TimeUnit unit) {
  while (!text.empty() && (text.back() == '\r' || text.back() == ' ')) text.remove_suffix(1);
  if (text.empty() || text.front() == '#') return {};
  if (word(text, ", ").empty()) throw LineError("the measurement's name is missing");
  while (!text.empty() && text.front() == ',') {  // tags
    text.remove_prefix(1);
    if (word(text, ",= ").empty() || text.empty() || text.front() != '=')
      throw LineError("a tag has no value");
    text.remove_prefix(1);
    word(text, ", ");
  }
  skip(text, ' ');
  std::vector<LineSamples> out;
  while (true) {
    LineSamples samples;
    samples.channel = word(text, ",= ");
    if (samples.channel.empty() || text.empty() || text.front() != '=')
      throw LineError("a field has no value");
    text.remove_prefix(1);
    samples.values.push_back(field_value(text, samples.channel));
    out.push_back(std::move(samples));
    if (text.empty() || text.front() != ',') break;
    text.remove_prefix(1);
  }
  skip(text, ' ');
  std::int64_t time_ns = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), time_ns);
  if (text.empty() || error != std::errc() || end != text.data() + text.size())
    throw LineError("the time stamp (a whole number) is missing or not a number");
  time_ns = whole_to_ns(time_ns, unit);
  for (LineSamples& samples : out) samples.time_ns = time_ns;
  return out;
}

std::string rather_in(std::int64_t stamp) {
  // 2001 to 2128 in that unit.
  for (const auto& [unit, second] : {std::pair{"s", 1e0}, {"ms", 1e3}, {"us", 1e6}})
    if (const double s = static_cast<double>(stamp) / second; s >= 1e9 && s < 5e9) return unit;
  return {};
}

}  // namespace airlatch
