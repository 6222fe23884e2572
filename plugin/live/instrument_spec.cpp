// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/live/instrument_spec.hpp"

#include <fmt/format.h>

#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

std::vector<std::string> split(const std::string& text, char at) {
  std::vector<std::string> parts;
  std::size_t from = 0;
  for (std::size_t to = text.find(at); to != std::string::npos; to = text.find(at, from)) {
    parts.push_back(text.substr(from, to - from));
    from = to + 1;
  }
  parts.push_back(text.substr(from));
  return parts;
}

}  // namespace

InstrumentSpec parse_instrument(const std::string& text) {
  InstrumentSpec spec;
  spec.text = text;
  const std::vector<std::string> parts = split(text, ':');
  spec.driver = parts.front();
  for (std::size_t k = 1; k < parts.size(); ++k) {
    const std::string& part = parts[k];
    const std::size_t equals = part.find('=');
    if (equals == std::string::npos || equals == 0)
      throw InputError(ExitStatus::kUsage, text, "", fmt::format("'{}' is not key=value", part),
                       "write driver:key=value:key=value");
    const std::string key = part.substr(0, equals), value = part.substr(equals + 1);
    if (key != "as") {
      spec.settings.emplace_back(key, value);
      continue;
    }
    for (const std::string& name : split(value, ',')) spec.names.push_back(name);
  }
  if (spec.driver.empty())
    throw InputError(ExitStatus::kUsage, text, "", "no driver is named",
                     "write driver:key=value; airlatch instruments shows what there is");
  return spec;
}

}  // namespace airlatch
