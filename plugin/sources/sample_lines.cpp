// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/sample_lines.hpp"

#include <charconv>
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>

namespace airlatch {
namespace {

constexpr double kLatest_s = 4e9;  // as nanoseconds within 64 bits, differences included
constexpr float kMissing = std::numeric_limits<float>::quiet_NaN();

std::int64_t to_ns(double time_s) {
  if (!(std::abs(time_s) <= kLatest_s))
    throw LineError("the time is not within 4e9 s of its origin");
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

std::vector<LineSamples> parse_json_line(std::string_view text) {
  if (text.find_first_not_of(" \t\r") == std::string_view::npos) return {};
  const auto line = nlohmann::json::parse(text, nullptr, false);
  if (line.is_discarded() || !line.is_object()) throw LineError("this is not a JSON object");
  const auto channel = line.find("channel");
  if (channel == line.end() || !channel->is_string())
    throw LineError("\"channel\" is missing or not text");
  LineSamples samples;
  samples.channel = channel->get<std::string>();
  samples.time_ns = to_ns(number_of(line, "time_s"));
  if (const auto values = line.find("values"); values != line.end()) {
    if (!values->is_array()) throw LineError("\"values\" is not a list");
    for (const auto& value : *values) samples.values.push_back(value_of(value));
    samples.clock = clock_of(number_of(line, "period_s"), samples.time_ns);
    if (samples.values.empty()) return {};
  } else if (const auto value = line.find("value"); value != line.end()) {
    samples.values.push_back(value_of(*value));
  } else {
    throw LineError("\"value\" or \"values\" is missing");
  }
  return {std::move(samples)};
}

std::vector<LineSamples> parse_line_protocol(std::string_view text) {
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
    throw LineError("the time stamp (whole nanoseconds) is missing or not a number");
  if (std::abs(static_cast<double>(time_ns)) > kLatest_s * 1e9)
    throw LineError("the time is not within 4e9 s of its origin");
  for (LineSamples& samples : out) samples.time_ns = time_ns;
  return out;
}

}  // namespace airlatch
