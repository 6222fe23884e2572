// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/sigrok_metadata.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <charconv>
#include <stdexcept>

namespace airlatch {
namespace {

[[noreturn]] void refuse(const std::string& what) { throw std::invalid_argument(what); }

std::string trimmed(std::string text) {
  const auto blank = [](unsigned char c) { return std::isspace(c) != 0; };
  text.erase(text.begin(), std::find_if_not(text.begin(), text.end(), blank));
  text.erase(std::find_if_not(text.rbegin(), text.rend(), blank).base(), text.end());
  return text;
}

int count(const std::string& key, const std::string& value, int most) {
  int number = -1;
  const auto [end, error] = std::from_chars(value.data(), value.data() + value.size(), number);
  if (error != std::errc() || end != value.data() + value.size() || number < 0 || number > most)
    refuse(fmt::format("{}={} is not a number from 0 to {}", key, value.substr(0, 40), most));
  return number;
}

// "10 kHz", "1.5 MHz", "44100": k, M, G in any case, as libsigrok reads them.
void rate(const std::string& value, SigrokMetadata& out) {
  std::string text;
  for (const char c : value)
    if (!std::isspace(static_cast<unsigned char>(c)))
      text += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  if (text.ends_with("hz")) text.resize(text.size() - 2);
  std::int64_t factor = 1;
  if (!text.empty()) {
    const char last = text.back();
    factor = last == 'k' ? 1'000 : last == 'm' ? 1'000'000 : last == 'g' ? 1'000'000'000 : 1;
    if (factor > 1) text.pop_back();
  }
  if (text.empty() && trimmed(value).empty()) return;
  std::int64_t digits = 0, den = 1;
  bool point = false;
  std::size_t seen = 0;
  for (const char c : text) {
    if (c == '.' && !point) {
      point = true;
    } else if (c >= '0' && c <= '9' && seen < 15) {
      digits = digits * 10 + (c - '0');
      if (point) den *= 10;
      ++seen;
    } else {
      seen = 0;
      break;
    }
  }
  if (seen == 0 || digits > 1'000'000'000'000 / factor * (den > 1 ? 1000 : 1))
    refuse(fmt::format("samplerate={} is not a rate", value.substr(0, 40)));
  out.rate_num = digits * factor;
  out.rate_den = den;
}

}  // namespace

SigrokMetadata parse_sigrok_metadata(const std::string& text) {
  SigrokMetadata out;
  bool in_device = false, seen_device = false;
  int enabled = 0;
  std::size_t at = 0;
  while (at < text.size()) {
    const std::size_t end = std::min(text.find('\n', at), text.size());
    const std::string line = trimmed(text.substr(at, end - at));
    at = end + 1;
    if (line.empty() || line[0] == '#') continue;
    if (line[0] == '[') {
      if (line.back() != ']') refuse("a section name is not closed");
      in_device = line.starts_with("[device ");
      if (in_device && seen_device)
        refuse("it describes a second device, whose data cannot be assigned");
      seen_device = seen_device || in_device;
      continue;
    }
    const std::size_t equals = line.find('=');
    if (equals == std::string::npos) refuse("a line has no '='");
    if (!in_device) continue;
    const std::string key = trimmed(line.substr(0, equals));
    const std::string value = trimmed(line.substr(equals + 1));
    const auto named = [&](const char* prefix) {
      const int n = count(key, key.substr(std::string(prefix).size()), 1'000'000);
      if (n < 1 || n > static_cast<int>(out.names.size()))
        refuse(fmt::format("{} names a channel beyond the totals", key));
      out.names[static_cast<std::size_t>(n - 1)] = value;
      ++enabled;
    };
    if (key == "samplerate") {
      rate(value, out);
    } else if (key == "capturefile") {
      out.capturefile = value;
    } else if (key == "unitsize") {
      out.unitsize = count(key, value, 8);
      if (out.unitsize == 0) refuse("unitsize=0");
    } else if (key == "total probes") {
      if (out.probes > 0 || out.analog > 0)
        refuse("the totals are given twice or in the wrong order");
      out.probes = count(key, value, SigrokMetadata::kMostChannels);
      out.names.resize(static_cast<std::size_t>(out.probes));
    } else if (key == "total analog") {
      if (out.analog > 0) refuse("the totals are given twice or in the wrong order");
      out.analog = count(key, value, SigrokMetadata::kMostChannels);
      out.names.resize(static_cast<std::size_t>(out.probes + out.analog));
    } else if (key.starts_with("probe")) {
      named("probe");
    } else if (key.starts_with("analog")) {
      const int n = count(key, key.substr(6), 1'000'000);
      if (n >= 1 && n <= out.probes) refuse(fmt::format("{} names a logic channel", key));
      named("analog");
    }
  }
  if (!seen_device) refuse("it describes no device");
  if (out.probes + out.analog == 0) refuse("it announces no channel");
  (void)enabled;
  for (std::size_t n = 0; n < out.names.size(); ++n)
    if (out.names[n].empty()) out.names[n] = std::to_string(n + 1);
  return out;
}

}  // namespace airlatch
