#include "plugin/verdict/compare.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <tuple>

#include "decoders/context.hpp"
#include "plugin/session/summary.hpp"

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

// The kinds whose measures are compared; both ways of ending a run are one.
std::string family(v1::Kind kind) {
  switch (kind) {
    case v1::MOTOR_START:
      return "start";
    case v1::STALL_CUTOFF:
    case v1::MOTOR_STOP:
      return "run";
    case v1::LEAK_DECAY:
      return "line left alone";
    default:
      return {};
  }
}

using Key = std::tuple<std::string, v1::Direction, int>;  // family, direction, which of them
// Within a family the order of events is that of their instants, capture after capture.
std::map<Key, v1::Event> keyed(const std::vector<v1::Event>& events) {
  std::map<std::pair<std::string, v1::Direction>, int> count;
  std::map<Key, v1::Event> out;
  for (const v1::Event& event : events) {
    const std::string name = family(event.kind());
    if (!name.empty()) out[{name, event.direction(), count[{name, event.direction()}]++}] = event;
  }
  return out;
}

std::string reason_of(const v1::Event& event, const std::string& measure) {
  const std::string key = measure + ": ";
  const std::size_t at = event.note().find(key);
  if (at == std::string::npos) return "not measured";
  const std::size_t from = at + key.size();
  return event.note().substr(from, event.note().find("; ", from) - from);
}

}  // namespace

std::vector<v1::Report::Change> compare_events(const std::vector<v1::Event>& before,
                                               const std::vector<v1::Event>& after) {
  const auto was = keyed(before), is = keyed(after);
  std::vector<v1::Report::Change> out;
  std::set<Key> keys;
  for (const auto& [key, event] : was) keys.insert(key);
  for (const auto& [key, event] : is) keys.insert(key);
  for (const Key& key : keys) {
    const auto& [name, direction, index] = key;
    v1::Report::Change one;
    one.set_event(index > 0 ? fmt::format("{}, {} {}", name, direction_words(direction), index + 1)
                            : fmt::format("{}, {}", name, direction_words(direction)));
    one.set_verdict(kNotComparable);
    const auto a = was.find(key), b = is.find(key);
    if (a == was.end() || b == is.end()) {
      one.set_reason(a == was.end() ? "seen after only" : "seen before only");
      out.push_back(one);
      continue;
    }
    if (a->second.kind() != b->second.kind()) {
      v1::Report::Change kind = one;
      const bool now = b->second.kind() == v1::STALL_CUTOFF;
      kind.set_verdict(now ? kImproved : kWorse);
      kind.set_reason(now ? "cuts off by itself now, did not before"
                          : "cut off by itself before, does not now");
      out.push_back(kind);
    }
    for (const auto& [measure, sign] : good()) {
      const v1::Measure *x = find_measure(a->second, measure),
                        *y = find_measure(b->second, measure);
      if (!x && !y) continue;
      v1::Report::Change line = one;
      line.set_measure(measure);
      if (x) *line.mutable_before() = *x;
      if (y) *line.mutable_after() = *y;
      if (!x || !y) {
        line.set_reason(std::string(x ? "after: " : "before: ") +
                        reason_of(x ? b->second : a->second, measure));
        out.push_back(line);
        continue;
      }
      const double change = y->value() - x->value(), u = std::hypot(x->u(), y->u());
      line.set_change(change);
      line.set_u(u);
      // A vacuum is better the deeper it is.
      const double better =
          sign * (measure == "end_pressure" ? std::abs(y->value()) - std::abs(x->value()) : change);
      line.set_verdict(std::abs(change) <= 2 * u ? kNoRealChange : better > 0 ? kImproved : kWorse);
      out.push_back(line);
    }
  }
  return out;
}

}  // namespace airlatch
