// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/session/limits.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>

namespace airlatch {
namespace {

struct BuiltIn {
  Kind kind;
  Direction direction;  // UNKNOWN: either
  const char* measure;
  Range range;
};
// All: common practice, no source.
constexpr Direction kEither = Direction::UNKNOWN;
const std::array kBuiltIn = {
    BuiltIn{Kind::FEED_ON, kEither, "level", {.min = 9}},
    BuiltIn{Kind::FEED_ON, kEither, "supply_level", {.min = 9}},
    BuiltIn{Kind::STALL_CUTOFF, kEither, "feed_path_resistance", {.max = 0.25}},
    BuiltIn{Kind::STALL_CUTOFF, kEither, "return_path_resistance", {.max = 0.25}},
    BuiltIn{Kind::STALL_CUTOFF, kEither, "branch_share", {.min = 0.3}},
    BuiltIn{Kind::STALL_CUTOFF, kEither, "motor_resistance", {.max = 1.3}},
    BuiltIn{Kind::STALL_CUTOFF, Direction::PRESSURE, "end_pressure", {.min = 35}},
    BuiltIn{Kind::STALL_CUTOFF, Direction::VACUUM, "end_pressure", {.max = -35}},
    BuiltIn{Kind::LEAK_DECAY, kEither, "leak_share", {.max = 0.005}},
    // A pump of this kind delivers some 8 Pa m3/s; the same share of that.
    BuiltIn{Kind::LEAK_DECAY, kEither, "leak_rate", {.max = 0.04}},
    BuiltIn{Kind::LEAK_DECAY, kEither, "decay_rate", {.max = 2}},
};

// How large a leak is, the best measure first: the share of the pump's delivery and the flow do not
// depend on the line's volume.
constexpr std::array<std::string_view, 3> kLeakMeasures = {"leak_share", "leak_rate", "decay_rate"};
bool of_a_leak(std::string_view measure) {
  return std::find(kLeakMeasures.begin(), kLeakMeasures.end(), measure) != kLeakMeasures.end();
}

// Of the step's limits on a leak, the name of the one that holds; empty: it has none.
std::string_view leak_limit_of(const Plan::Step& step, const Event& event) {
  std::string_view first;
  for (const std::string_view measure : kLeakMeasures) {
    const bool limited = std::any_of(step.limit.begin(), step.limit.end(),
                                     [&](const auto& limit) { return limit.measure == measure; });
    if (limited && find_measure(event, measure)) return measure;
    if (limited && first.empty()) first = measure;
  }
  return first;  // none was measured
}

// A run that ended in another way is held against the limits of one that cut off, and a pump that
// runs on against the pressure at which it should have.
Kind judged_as(Kind kind) {
  return kind == Kind::MOTOR_STOP || kind == Kind::RUN_ON ? Kind::STALL_CUTOFF : kind;
}

bool agree(Direction a, Direction b) {
  return a == Direction::UNKNOWN || b == Direction::UNKNOWN || a == b;
}

// What either allows.
Range widest(const Range& a, const Range& b) {
  Range out;
  if (a.min && b.min) out.min = std::min(*a.min, *b.min);
  if (a.max && b.max) out.max = std::max(*a.max, *b.max);
  return out;
}

// What both allow.
Range narrowest(Range a, const Range& b) {
  if (b.min) a.min = a.min ? std::max(*a.min, *b.min) : b.min;
  if (b.max) a.max = a.max ? std::min(*a.max, *b.max) : b.max;
  return a;
}

// Of a step, which may limit a measure several times; nothing where it does not.
std::optional<Range> range_of(const Plan::Step& step, std::string_view measure) {
  std::optional<Range> out;
  for (const Plan::Limit& limit : step.limit)
    if (limit.measure == measure) out = narrowest(out.value_or(Range{}), {limit.min, limit.max});
  return out;
}

// P(truth beyond the limit), for a value that lies `past` it (below 0: inside).
double tail(double past, double u, double limit) {
  const double spread = past > 0 ? std::hypot(u, 0.05 * limit) : u;
  if (!(spread > 0)) return past > 0 ? 1 : 0;
  return 0.5 * std::erfc(-past / spread / std::sqrt(2.0));
}

}  // namespace

Within within(const Range& range, const Measure& measure) {
  double room = 1e300;  // to the nearer limit
  if (range.max) room = std::min(room, *range.max - measure.value);
  if (range.min) room = std::min(room, measure.value - *range.min);
  if (room >= 2 * measure.u) return Within::kYes;
  return room <= -2 * measure.u ? Within::kNo : Within::kUndecided;
}

double probability_outside(const Range& range, const Measure& measure) {
  double outside = 0;
  if (range.max) outside += tail(measure.value - *range.max, measure.u, *range.max);
  if (range.min) outside += tail(*range.min - measure.value, measure.u, *range.min);
  return std::min(outside, 1.0);
}

bool fits(const Plan::Step& step, Kind kind, Direction direction) {
  return step.expect == kind && agree(step.direction, direction);
}

std::optional<Range> Limits::of_plan(Kind kind, Direction direction,
                                     std::string_view measure) const {
  std::optional<Range> out;
  for (const Plan::Step& step : steps_) {
    if (!fits(step, kind, direction) && !fits(step, judged_as(kind), direction)) continue;
    const std::optional<Range> range = range_of(step, measure);
    if (range) out = out ? widest(*out, *range) : *range;
  }
  return out;
}

Range Limits::of(Kind kind, Direction direction, std::string_view measure) const {
  if (const std::optional<Range> range = of_plan(kind, direction, measure)) return *range;
  for (const BuiltIn& built_in : kBuiltIn)
    if (built_in.kind == judged_as(kind) && built_in.measure == measure &&
        agree(built_in.direction, direction))
      return built_in.range;
  return {};
}

const Measure* Limits::judged_leak(const Event& decay) const {
  const auto limited = [&](std::string_view measure) {
    return of_plan(decay.kind, decay.direction, measure).has_value();
  };
  const bool by_plan = std::any_of(kLeakMeasures.begin(), kLeakMeasures.end(), limited);
  for (const std::string_view measure : kLeakMeasures)
    if (const Measure* m = find_measure(decay, measure); m && (!by_plan || limited(measure)))
      return m;
  return nullptr;
}

Direction Limits::only_way() const {
  Direction way = Direction::UNKNOWN;
  for (const Plan::Step& step : steps_) {
    if (step.direction == Direction::UNKNOWN) return Direction::UNKNOWN;
    if (way != Direction::UNKNOWN && way != step.direction) return Direction::UNKNOWN;
    way = step.direction;
  }
  return way;
}

bool Limits::wait_for(const Event& event) const {
  const auto keeps = [&](const Plan::Limit& limit) {
    const Measure* m = find_measure(event, limit.measure);
    return m && within({limit.min, limit.max}, *m) == Within::kYes;
  };
  return std::any_of(steps_.begin(), steps_.end(), [&](const Plan::Step& step) {
    if (!fits(step, event.kind, event.direction)) return false;
    const std::vector<Plan::Limit> limits = limits_that_hold(step, event);
    return std::all_of(limits.begin(), limits.end(), keeps);
  });
}

std::vector<Plan::Limit> limits_that_hold(const Plan::Step& step, const Event& event) {
  const std::string_view leak = leak_limit_of(step, event);
  std::vector<Plan::Limit> out;
  std::copy_if(
      step.limit.begin(), step.limit.end(), std::back_inserter(out),
      [&](const auto& limit) { return !of_a_leak(limit.measure) || limit.measure == leak; });
  return out;
}

Limits limits_of(const Plan& plan) { return Limits(plan.step); }

}  // namespace airlatch
