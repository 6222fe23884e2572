// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/event.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "decoders/method/uncertainty.hpp"

namespace airlatch {

Direction opposite(Direction direction) {
  if (direction == Direction::PRESSURE) return Direction::VACUUM;
  return direction == Direction::VACUUM ? Direction::PRESSURE : Direction::UNKNOWN;
}

void add_measure(Event& event, const char* name, Uncertain value, const char* unit) {
  if (!std::isfinite(value.value) || !std::isfinite(value.u)) {
    add_missing(event, name, MissingCode::IMPLAUSIBLE, "these readings give no number for it");
    return;
  }
  // Nothing is known better than the samples' own numbers, which have 24 bits.
  const double resolution = u_of_width(std::numeric_limits<float>::epsilon() * value.value);
  event.measures.push_back({name, value.value, std::max(value.u, resolution), unit});
}

void add_missing(Event& event, const char* measure, MissingCode code, std::string text) {
  event.missing.push_back({measure, code, std::move(text)});
}

void add_note(Event& event, const std::string& text) {
  if (!event.note.empty()) event.note += "; ";
  event.note += text;
}

const Measure* find_measure(const Event& event, std::string_view name) {
  for (const Measure& measure : event.measures)
    if (measure.name == name) return &measure;
  return nullptr;
}

const Missing* find_missing(const Event& event, std::string_view measure) {
  for (const Missing& missing : event.missing)
    if (missing.measure == measure) return &missing;
  return nullptr;
}

}  // namespace airlatch
