// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/states.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

namespace airlatch {
namespace {

constexpr double kClearlyMore = 2;  // lost, for the other direction to be shown

// A limit of a run is one of its stop, however it came.
bool ends_run(Kind kind) { return kind == Kind::STALL_CUTOFF || kind == Kind::MOTOR_STOP; }

// How much a customer cares, where nothing has changed.
int weight_of(const std::string& measure) {
  static const std::map<std::string, int> weights = {{"leak_share", 60},
                                                     {"leak_rate", 58},
                                                     {"decay_rate", 56},
                                                     {"end_pressure", 50},
                                                     {"run_time", 40},
                                                     {"feed_path_resistance", 30},
                                                     {"return_path_resistance", 25},
                                                     {"motor_resistance", 22},
                                                     {"level", 20}};
  const auto at = weights.find(measure);
  return at == weights.end() ? 10 : at->second;
}

bool fails(const std::optional<Measure>& measure, const Range& range) {
  return measure && within(range, *measure) != Within::kYes;
}

int telling(const KeyFigure& figure) {
  const bool was = fails(figure.before, figure.range), is = fails(figure.now, figure.range);
  const int state = is ? 300 : was ? 200 : 0;
  return state + (figure.now ? 100 : 0) + (figure.planned ? 50 : 0) + weight_of(figure.measure);
}

// The measures of an event that its plan, or common practice, limits.
void take_limited(const Event& event, const Limits& limits, bool before,
                  std::map<std::pair<std::string, Direction>, KeyFigure>& into) {
  const Measure* const leak = event.kind == Kind::LEAK_DECAY ? limits.judged_leak(event) : nullptr;
  for (const Measure& measure : event.measures) {
    if (event.kind == Kind::LEAK_DECAY && (!leak || measure.name != leak->name)) continue;
    const Range range = limits.of(event.kind, event.direction, measure.name);
    if (!range.min && !range.max) continue;
    KeyFigure& figure = into[{measure.name, event.direction}];
    figure.measure = measure.name;
    figure.direction = event.direction;
    figure.range = range;
    figure.planned = limits.of_plan(event.kind, event.direction, measure.name).has_value();
    std::optional<Measure>& here = before ? figure.before : figure.now;
    if (!here) here = measure;
  }
}

// The first few of each kind and way that a figure can rest on: a day has tens of thousands.
std::vector<Event> telling_events(const EventStore& events) {
  constexpr int kEnough = 8;
  std::map<std::pair<Kind, Direction>, int> seen;
  std::vector<Event> out;
  events.for_each([&](const Event& event) {
    const bool tells =
        ends_run(event.kind) || event.kind == Kind::LEAK_DECAY || event.kind == Kind::FEED_ON;
    if (tells && seen[{event.kind, event.direction}]++ < kEnough) out.push_back(event);
  });
  return out;
}

}  // namespace

States states_of(const JobReport& test) {
  States out;
  const auto& captures = test.report.captures;
  out.repaired = std::any_of(captures.begin(), captures.end(),
                             [](const auto& c) { return c.phase == Phase::AFTER; });
  if (test.events.size() != captures.size()) {
    if (!test.report.events.empty()) out.now.push_back({0, test.report.events});
    return out;
  }
  for (const bool whole : {true, false})
    for (std::size_t k = 0; k < captures.size(); ++k) {
      if (captures[k].closed_branch.empty() != whole) continue;
      const bool past = out.repaired && captures[k].phase != Phase::AFTER;
      (past ? out.before : out.now).push_back({k, telling_events(test.events[k])});
    }
  return out;
}

std::vector<KeyFigure> key_figures(const States& states, const Plan& plan) {
  const Limits limits = limits_of(plan);
  std::map<std::pair<std::string, Direction>, KeyFigure> all;
  for (const bool before : {true, false})
    for (const CaptureEvents& capture : before ? states.before : states.now)
      for (const Event& event : capture.events) take_limited(event, limits, before, all);
  std::vector<KeyFigure> out;
  for (auto& [key, figure] : all) out.push_back(std::move(figure));
  std::stable_sort(out.begin(), out.end(),
                   [](const KeyFigure& a, const KeyFigure& b) { return telling(a) > telling(b); });
  // Of one measure the two directions at most say the same: the second only where it fails.
  std::map<std::string, int> seen;
  std::erase_if(out, [&](const KeyFigure& figure) {
    const bool failed = fails(figure.before, figure.range) || fails(figure.now, figure.range);
    return seen[figure.measure]++ > 0 && !failed;
  });
  if (out.size() > kMostFigures) out.resize(kMostFigures);
  return out;
}

HoldPair telling_hold(const States& states) {
  const auto hold = [](const std::vector<CaptureEvents>& captures,
                       Direction direction) -> std::optional<std::pair<std::size_t, Event>> {
    for (const CaptureEvents& capture : captures)
      for (const Event& event : capture.events)
        if (event.kind == Kind::LEAK_DECAY && event.direction == direction)
          return std::pair(capture.capture, event);
    return std::nullopt;
  };
  HoldPair best;
  double most = -1;
  bool best_both = false;
  for (const Direction direction : {Direction::PRESSURE, Direction::VACUUM, Direction::UNKNOWN}) {
    const auto was = hold(states.before, direction), is = hold(states.now, direction);
    if (!was && !is) continue;
    const Measure* const rate = find_measure((was ? was : is)->second, "decay_rate");
    // Both states in one picture come first.
    const bool both = was && is;
    const double lost = rate ? std::abs(rate->value) : 0;
    if (best_both > both || (best_both == both && lost <= kClearlyMore * most)) continue;
    best_both = both;
    most = lost;
    best = {};
    if (was) best.before = was->first, best.before_hold = was->second;
    if (is) best.now = is->first, best.now_hold = is->second;
  }
  return best;
}

}  // namespace airlatch
