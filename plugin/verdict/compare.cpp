// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/verdict/compare.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <optional>
#include <set>
#include <tuple>

#include "plugin/session/kinds.hpp"
#include "plugin/session/quantity.hpp"

namespace airlatch {
namespace {

// What moves a measure though nothing of the car has changed.
enum class By { kNothing, kSource, kStartPressure };

struct Compared {
  const char* measure;
  By by = By::kNothing;
  double share = 0;     // its spread from run to run, relative (common practice, no source)
  bool of_end = false;  // it depends on what ended the run
  // A sound pump may have more or less of it: it is judged only where it leaves or enters its limit.
  bool either_way = false;
};
constexpr std::array kCompared = {
    Compared{"level", By::kNothing, 0.02},
    Compared{"run_time", By::kSource, 0.03, true, true},
    Compared{"run_current", By::kSource, 0.03, true},
    Compared{"end_current", By::kSource, 0.03, true},
    Compared{"end_pressure", By::kNothing, 0.02, true},
    Compared{"rise_rate", By::kSource, 0.03, false, true},
    Compared{"branch_share", By::kNothing, 0.05},
    Compared{"energy", By::kSource, 0.03, true},
    Compared{"feed_path_resistance", By::kNothing, 0.05},
    Compared{"return_path_resistance", By::kNothing, 0.05},
    Compared{"shaft_speed", By::kSource, 0.02},
    Compared{"inrush_peak", By::kSource, 0.05},
    Compared{"supply_sag", By::kSource, 0.1},
    Compared{"supply_resistance", By::kNothing, 0.1},
    Compared{"motor_resistance", By::kNothing, 0.05},
    Compared{"leak_share", By::kStartPressure, 0.1},
    Compared{"decay_rate", By::kStartPressure, 0.1},
    Compared{"time_constant", By::kNothing, 0.1},
    Compared{"leak_rate", By::kStartPressure, 0.1},
    Compared{"leak_hole", By::kNothing, 0.1},
};

constexpr double kOfLimit = 0.1;      // the contract
constexpr double kLikeSource = 0.02;  // relative: sources that are alike
constexpr double kLikeStart = 0.5;    // start pressures that can be corrected for: within half

// Of events that are paired. Rests come first, then runs, then starts, then feeds.
struct Key {
  Family family = Family::kNone;
  Direction direction = Direction::UNKNOWN;
  Contact contact = Contact::NONE;  // of a feed, whose direction nobody may know
  int index = 0;                    // which of them
  bool operator<(const Key& other) const {
    return std::tie(other.family, direction, contact, index) <
           std::tie(family, other.direction, other.contact, other.index);
  }
};

struct Paired {
  Event event;
  std::optional<Measure> source;  // the voltage that its run was fed with
};

std::optional<Measure> copy_of(const Event& event, const char* name) {
  const Measure* m = find_measure(event, name);
  return m ? std::optional(*m) : std::nullopt;
}

// One state's events by what they are paired by.
class State {
 public:
  explicit State(const std::vector<Event>& events) {
    std::map<Contact, std::optional<Measure>> level;
    std::map<Key, int> count;
    for (const Event& event : events) {
      ++seen_[event.kind];
      if (event.kind == Kind::FEED_ON) level[event.contact] = copy_of(event, "level");
      if (event.kind == Kind::NO_RESPONSE || event.kind == Kind::LOCKED_ROTOR)
        dead_.insert(event.contact);
      Key key{.family = row_of(event.kind).family};
      if (key.family == Family::kNone) continue;
      if (key.family == Family::kFeed)
        key.contact = event.contact;
      else
        key.direction = event.direction;
      key.index = count[key]++;
      if (key.family == Family::kFeed && key.index > 0) continue;  // later ones may be chatter
      paired_[key] = {event, level[event.contact]};
    }
  }
  [[nodiscard]] const std::map<Key, Paired>& paired() const { return paired_; }
  [[nodiscard]] const Paired* at(const Key& key) const {
    const auto it = paired_.find(key);
    return it == paired_.end() ? nullptr : &it->second;
  }
  [[nodiscard]] int seen(Kind kind) const {
    const auto it = seen_.find(kind);
    return it == seen_.end() ? 0 : it->second;
  }
  [[nodiscard]] bool dead(Contact contact) const { return dead_.contains(contact); }
  // Values of a measure in all events of a family and direction.
  [[nodiscard]] std::vector<double> all(const Key& key, const char* measure) const {
    std::vector<double> out;
    for (const auto& [other, paired] : paired_)
      if (other.family == key.family && other.direction == key.direction)
        if (const Measure* m = find_measure(paired.event, measure)) out.push_back(m->value);
    return out;
  }

 private:
  std::map<Key, Paired> paired_;
  std::map<Kind, int> seen_;
  std::set<Contact> dead_;
};

std::string words_of(const Key& key) {
  const char* name = family_words(key.family);
  if (key.family == Family::kFeed) {
    const std::string contact = contact_words(key.contact);
    return contact.empty() ? name : fmt::format("{}, {}", name, contact);
  }
  const char* const way = direction_words(key.direction);
  return key.index > 0 ? fmt::format("{}, {} {}", name, way, key.index + 1)
                       : fmt::format("{}, {}", name, way);
}

std::string reason_of(const Event& event, const std::string& measure) {
  const Missing* missing = find_missing(event, measure);
  return missing ? missing->text : "not measured";
}

// Standard deviation from run to run: of the repeated ones, each state about its own mean, where
// there are enough, else the stated share.
double repeatability(const Compared& what, const Key& key, const State& was, const State& is,
                     double value) {
  double squares = 0, freedom = 0;
  for (const State* state : {&was, &is}) {
    const std::vector<double> all = state->all(key, what.measure);
    double mean = 0;
    for (const double v : all) mean += v / static_cast<double>(all.size());
    for (const double v : all) squares += (v - mean) * (v - mean);
    freedom += std::max(0.0, static_cast<double>(all.size()) - 1);
  }
  constexpr double kEnough = 4;
  return freedom >= kEnough ? std::sqrt(squares / freedom) : what.share * std::abs(value);
}

// In words, where the sources differ by more than they are known to.
std::string other_source(const Paired& was, const Paired& is) {
  if (!was.source || !is.source) return "";
  const double differ = std::abs(is.source->value - was.source->value);
  const double alike = std::max(kLikeSource * std::abs(was.source->value),
                                2 * std::hypot(was.source->u, is.source->u));
  if (differ <= alike) return "";
  return fmt::format("source voltage {} before, {} after",
                     format_quantity(was.source->value, was.source->u, "V"),
                     format_quantity(is.source->value, is.source->u, "V"));
}

// A measure as it would have been from another start: a leak goes with the pressure, or, through a
// hole, with its square root.
struct FromOtherStart {
  Measure measure = {};
  std::string not_comparable = {};
};
FromOtherStart from_start_of(const Paired& was, const Paired& is, const Measure& after) {
  FromOtherStart out{after, {}};
  const Measure *x = find_measure(was.event, "start_pressure"),
                *y = find_measure(is.event, "start_pressure");
  if (!x || !y || !(x->value * y->value > 0)) return out;
  const double ratio = x->value / y->value;
  if (std::abs(ratio - 1) > kLikeStart) {
    out.not_comparable =
        fmt::format("start pressure {} before, {} after", format_quantity(x->value, x->u, "kPa"),
                    format_quantity(y->value, y->u, "kPa"));
    return out;
  }
  const double half_power = std::sqrt(ratio);
  out.measure.value *= 0.5 * (ratio + half_power);
  out.measure.u = std::hypot(after.u, 0.5 * (ratio - half_power) * after.value);
  return out;
}

// By the limit's side on which more lies: improved, worse, or neither.
const char* judged(const Range& range, double change) {
  if (range.max && std::abs(change) > kOfLimit * std::abs(*range.max))
    return change < 0 ? kImproved : kWorse;
  if (range.min && std::abs(change) > kOfLimit * std::abs(*range.min))
    return change > 0 ? kImproved : kWorse;
  return kChanged;
}

// One measure of two paired events.
class Row {
 public:
  Row(const Key& key, const State& was, const State& is, const Limits& limits)
      : key_(key), was_(was), is_(is), limits_(limits) {}

  [[nodiscard]] std::optional<Report::Change> of(const Compared& what) const {
    const Paired &a = *was_.at(key_), &b = *is_.at(key_);
    const Measure *x = find_measure(a.event, what.measure),
                  *y = find_measure(b.event, what.measure);
    if (!x && !y) return std::nullopt;
    Report::Change line;
    line.event = words_of(key_);
    line.measure = what.measure;
    line.verdict = kNotComparable;
    if (x) line.before = *x;
    if (y) line.after = *y;
    if (!x || !y) {
      line.reason =
          std::string(x ? "after: " : "before: ") + reason_of(x ? b.event : a.event, what.measure);
      return line;
    }
    FromOtherStart alike{*y, {}};
    if (what.by == By::kStartPressure) alike = from_start_of(a, b, *y);
    line.change = alike.measure.value - x->value;
    line.u = std::hypot(x->u, alike.measure.u);
    const double spread = repeatability(what, key_, was_, is_, x->value);
    if (std::abs(line.change) <= 2 * std::hypot(line.u, spread)) {
      line.verdict = kNoRealChange;
      return line;
    }
    line.reason = alike.not_comparable;
    if (what.by == By::kSource) line.reason = other_source(a, b);
    if (what.of_end && a.event.kind != b.event.kind) line.reason = "the run ended in another way";
    if (!line.reason.empty()) return line;
    const Range range = limits_.of(b.event.kind, b.event.direction, what.measure);
    const bool inside = within(range, *x) == Within::kYes && within(range, *y) == Within::kYes;
    line.verdict = what.either_way && inside ? kChanged : judged(range, line.change);
    return line;
  }

 private:
  const Key& key_;
  const State &was_, &is_;
  const Limits& limits_;
};

// Seen on one side only.
Report::Change one_sided(const Key& key, const State& was, const State& is) {
  Report::Change out;
  out.event = words_of(key);
  out.verdict = kNotComparable;
  const Paired* const only = was.at(key) ? was.at(key) : is.at(key);
  const bool now = is.at(key) != nullptr;
  const State& other = now ? was : is;
  const bool cuts_off = only->event.kind == Kind::STALL_CUTOFF;
  if (cuts_off && key.index == 0 && other.dead(only->event.contact)) {
    out.verdict = now ? kImproved : kWorse;
    out.reason = now ? "did not run before, cuts off by itself now"
                     : "cut off by itself before, does not run now";
    return out;
  }
  out.reason = now ? "seen after only" : "seen before only";
  return out;
}

// How a run ended, where it ended otherwise.
std::optional<Report::Change> other_end(const Key& key, const Event& was, const Event& is) {
  if (was.kind == is.kind) return std::nullopt;
  const bool now = is.kind == Kind::STALL_CUTOFF;
  Report::Change out;
  out.event = words_of(key);
  out.verdict = now ? kImproved : kWorse;
  out.reason =
      now ? "cuts off by itself now, did not before" : "cut off by itself before, does not now";
  return out;
}

// Events that are faults by being there.
std::vector<Report::Change> faults_by_count(const State& was, const State& is) {
  struct Counted {
    Kind kind;
    const char* words;
  };
  constexpr std::array kCounted = {Counted{Kind::DROPOUT, "breaks of the current"},
                                   Counted{Kind::RUN_ON, "runs that did not end by themselves"},
                                   Counted{Kind::LOCKED_ROTOR, "times the rotor stood still"},
                                   Counted{Kind::RESTART, "starts by itself"}};
  std::vector<Report::Change> out;
  for (const auto& [kind, words] : kCounted) {
    const int before = was.seen(kind), after = is.seen(kind);
    if (before == 0 && after == 0) continue;
    Report::Change line;
    line.event = words;
    line.reason = fmt::format("{} before, {} after", before, after);
    const bool ran = was.seen(Kind::MOTOR_START) > 0 && is.seen(Kind::MOTOR_START) > 0;
    line.verdict = !ran              ? kNotComparable
                   : before == after ? kNoRealChange
                   : after == 0      ? kImproved
                   : before == 0     ? kWorse
                                     : kChanged;
    out.push_back(line);
  }
  return out;
}

}  // namespace

std::vector<Report::Change> compare_events(const std::vector<Event>& before,
                                           const std::vector<Event>& after, const Limits& limits) {
  const State was(before), is(after);
  std::set<Key> keys;
  for (const State* state : {&was, &is})
    for (const auto& [key, paired] : state->paired()) keys.insert(key);
  std::vector<Report::Change> out;
  for (const Key& key : keys) {
    const Paired *a = was.at(key), *b = is.at(key);
    if (!a || !b) {
      out.push_back(one_sided(key, was, is));
      continue;
    }
    if (auto end = other_end(key, a->event, b->event)) out.push_back(*end);
    const Row row(key, was, is, limits);
    for (const Compared& what : kCompared)
      if (auto line = row.of(what)) out.push_back(*line);
  }
  std::vector<Report::Change> counted = faults_by_count(was, is);
  out.insert(out.end(), counted.begin(), counted.end());
  return out;
}

}  // namespace airlatch
