// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/verdict/compare.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>

#include "plugin/session/kinds.hpp"

namespace airlatch {
namespace {

// What a measure is good for: +1 more is better, -1 less is better. Others only describe.
const std::map<std::string, int>& good() {
  static const std::map<std::string, int> all = {{"run_time", -1},
                                                 {"run_current", -1},
                                                 {"end_pressure", 1},
                                                 {"rise_rate", 1},
                                                 {"energy", -1},
                                                 {"feed_path_resistance", -1},
                                                 {"return_path_resistance", -1},
                                                 {"shaft_speed", 1},
                                                 {"inrush_peak", 1},
                                                 {"supply_sag", -1},
                                                 {"supply_resistance", -1},
                                                 {"motor_resistance", -1},
                                                 {"decay_rate", -1},
                                                 {"time_constant", 1},
                                                 {"leak_rate", -1},
                                                 {"leak_hole", -1}};
  return all;
}

// Of events that are paired. Rests come first, then runs, then starts.
struct Key {
  Family family = Family::kNone;
  Direction direction = Direction::UNKNOWN;
  int index = 0;  // which of them
  bool operator<(const Key& other) const {
    return std::tie(other.family, direction, index) <
           std::tie(family, other.direction, other.index);
  }
};
// Within a family the order of events is that of their instants, capture after capture.
std::map<Key, Event> keyed(const std::vector<Event>& events) {
  std::map<std::pair<Family, Direction>, int> count;
  std::map<Key, Event> out;
  for (const Event& event : events) {
    const Family family = row_of(event.kind).family;
    if (family == Family::kNone) continue;
    const int index = count[{family, event.direction}]++;
    out[{family, event.direction, index}] = event;
  }
  return out;
}

std::string reason_of(const Event& event, const std::string& measure) {
  const Missing* missing = find_missing(event, measure);
  return missing ? missing->text : "not measured";
}

}  // namespace

std::vector<Report::Change> compare_events(const std::vector<Event>& before,
                                           const std::vector<Event>& after) {
  const auto was = keyed(before), is = keyed(after);
  std::vector<Report::Change> out;
  std::set<Key> keys;
  for (const auto& [key, event] : was) keys.insert(key);
  for (const auto& [key, event] : is) keys.insert(key);
  for (const Key& key : keys) {
    const auto& [family, direction, index] = key;
    const char* name = family_words(family);
    Report::Change one;
    one.event = index > 0 ? fmt::format("{}, {} {}", name, direction_words(direction), index + 1)
                          : fmt::format("{}, {}", name, direction_words(direction));
    one.verdict = kNotComparable;
    const auto a = was.find(key), b = is.find(key);
    if (a == was.end() || b == is.end()) {
      one.reason = a == was.end() ? "seen after only" : "seen before only";
      out.push_back(one);
      continue;
    }
    if (a->second.kind != b->second.kind) {
      Report::Change kind = one;
      const bool now = b->second.kind == Kind::STALL_CUTOFF;
      kind.verdict = now ? kImproved : kWorse;
      kind.reason =
          now ? "cuts off by itself now, did not before" : "cut off by itself before, does not now";
      out.push_back(kind);
    }
    for (const auto& [measure, sign] : good()) {
      const Measure *x = find_measure(a->second, measure), *y = find_measure(b->second, measure);
      if (!x && !y) continue;
      Report::Change line = one;
      line.measure = measure;
      if (x) line.before = *x;
      if (y) line.after = *y;
      if (!x || !y) {
        line.reason =
            std::string(x ? "after: " : "before: ") + reason_of(x ? b->second : a->second, measure);
        out.push_back(line);
        continue;
      }
      const double change = y->value - x->value, u = std::hypot(x->u, y->u);
      line.change = change;
      line.u = u;
      // A vacuum is better the deeper it is.
      const double better =
          sign * (measure == "end_pressure" ? std::abs(y->value) - std::abs(x->value) : change);
      line.verdict = std::abs(change) <= 2 * u ? kNoRealChange : better > 0 ? kImproved : kWorse;
      out.push_back(line);
    }
  }
  return out;
}

}  // namespace airlatch
