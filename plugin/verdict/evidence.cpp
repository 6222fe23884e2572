// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/verdict/evidence.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

#include "plugin/session/quantity.hpp"

namespace airlatch {

std::string cite(const Event& event, const Measure* measure) {
  std::string text =
      fmt::format("{} at {}", name_of(event.kind),
                  format_quantity(event.time_s, std::max(event.time_u_s, 1e-6), "s"));
  if (event.contact != Contact::NONE) text += ", contact " + name_of(event.contact);
  if (measure)
    text += fmt::format(": {} {}", measure->name,
                        format_quantity(measure->value, measure->u, measure->unit));
  return text;
}

namespace {
// A range's one side.
Range lower(const Range& range) { return {.min = range.min}; }
Range upper(const Range& range) { return {.max = range.max}; }

// An event that a statement rests on, with the one measure that counts, in words and as it is.
struct Reason {
  std::string words = {};
  Event event = {};
};
Reason reason(const Event& event, const Measure* measure = nullptr) {
  Reason out{.words = cite(event, measure), .event = event};
  out.event.measures.clear();
  out.event.missing.clear();
  out.event.note.clear();
  if (measure) out.event.measures.push_back(*measure);
  return out;
}
}  // namespace

class EvidenceGatherer::Inner {
 public:
  explicit Inner(Limits limits) : limits_(std::move(limits)) {}

  void take(const EventStore& events, std::size_t capture,
            const std::optional<double>& source_most_v) {
    capture_ = static_cast<std::uint32_t>(capture);
    events.for_each([&](const Event& event) {
      if (is_fault_by_itself(event.kind) && limits_.wait_for(event)) return;
      take(event, events);
    });
    if (source_most_v) never_stood(*source_most_v);
    running_ = {};  // whatever ran: no stop will come any more
    for (std::size_t contact = 0; contact < kContacts; ++contact) settle(contact);
  }

  EvidenceTable finish() {
    const bool both_dead = dead_[1] && dead_[2] && !ran_[1] && !ran_[2];
    const bool by_contact = tried_[1] || tried_[2];
    set(Statement::kBothDead, both_dead ? 0.99 : 0.01, by_contact);
    set(Statement::kArmedDead, armed_dead_ ? 0.99 : 0.01, by_contact);
    const bool run = ran_[0] || ran_[1] || ran_[2];
    // A line that was held without a pump: nothing is said of one.
    const bool held_only = !run && !by_contact && held();
    // A contact that does nothing is tried when the other has been run to its cut-off before, or
    // is dead as well; a car whose contacts nobody measures is tried by two runs. Where the plan
    // runs the pump one way only, one run to its cut-off is all it asks for.
    const int cuts = cut_[0] + cut_[1] + cut_[2];
    const bool one_way = limits_.only_way() != Direction::UNKNOWN && cuts > 0;
    const bool tried = one_way || (by_contact ? (tried_[1] && tried_[2]) : cut_[0] >= 2);
    set(Statement::kUntried, tried || anything_wrong_ ? 0.01 : 0.99, !held_only);
    const bool both_cut = one_way || (by_contact ? cut_[1] > 0 && cut_[2] > 0 : cut_[0] >= 2);
    set(Statement::kBothCut, both_cut ? 0.99 : 0.01, tried);
    weigh_sides();
    for (const Statement s : {Statement::kLocked, Statement::kWiringBreaks, Statement::kBrushBreaks,
                              Statement::kRunsOnFull, Statement::kRunsOnLow})
      set(s, 0.01, run);  // a run that showed none of it
    return std::move(table_);
  }

 private:
  static constexpr std::size_t kContacts = EnumNames<Contact>::kAll.size();
  // What a limit of time reported too early is withdrawn by what came after it all the same.
  struct Waiting {
    std::optional<Event> runs_on;  // until the run's end: a late cut-off is a cut-off
    std::optional<Event> dead;     // until the feed goes: a late start is a start
  };

  Evidence& at(Statement s) { return table_[static_cast<std::size_t>(s)]; }
  // The most certain sight of a statement counts.
  void saw(Statement s, double probability, const Reason& because) {
    Evidence& evidence = at(s);
    if (!evidence.known || probability > evidence.probability) evidence.probability = probability;
    evidence.known = true;
    if (probability > 0.5 && !because.words.empty()) because_of(s, because);
  }
  void because_of(Statement s, const Reason& because) {
    Evidence& evidence = at(s);
    if (evidence.because.size() >= kMostCited) {
      ++evidence.more;
      return;
    }
    evidence.because.push_back(because.words);
    // What no event says is words alone.
    if (because.event.kind != Kind::UNSPECIFIED)
      evidence.basis.push_back({capture_, because.event});
  }
  void set(Statement s, double probability, bool known) {
    if (!known || at(s).known) return;
    at(s).known = true;
    at(s).probability = probability;
  }
  // Such an event is evidence by being there; where the plan waits for it, it is none.
  static bool is_fault_by_itself(Kind kind) {
    return kind == Kind::NO_RESPONSE || kind == Kind::RUN_ON || kind == Kind::LOCKED_ROTOR ||
           kind == Kind::DROPOUT;
  }
  // How probable it is that a measure is above its limit, or below it; nothing where it was not
  // measured or has no limit.
  void above(Statement s, const Event& event, std::string_view name) {
    limit(s, event, name, upper);
  }
  void below(Statement s, const Event& event, std::string_view name) {
    limit(s, event, name, lower);
  }
  void limit(Statement s, const Event& event, std::string_view name, Range (*side)(const Range&)) {
    const Measure* m = find_measure(event, name);
    if (!m) return;
    const Range range = side(limits_.of(event.kind, event.direction, name));
    if (range.min || range.max) saw(s, probability_outside(range, *m), reason(event, m));
  }

  // Each kind that is evidence. The others say nothing of a fault, and are not named: a new kind
  // needs a line here only when a statement rests on it.
  void take(const Event& event, const EventStore& all) {
    const Kind kind = event.kind;
    const std::size_t contact = contact_of(event);
    if (kind == Kind::FEED_ON) fed(event);
    if (kind == Kind::FEED_OFF) settle_dead(contact);
    if (kind == Kind::MOTOR_START) started(event);
    if (kind == Kind::NO_RESPONSE) waiting_[contact].dead = event;
    if (kind == Kind::STALL_CUTOFF) cut_off(event);
    if (kind == Kind::MOTOR_STOP) feed_went(event);
    if (kind == Kind::LOCKED_ROTOR) locked(event);
    if (kind == Kind::RUN_ON) waiting_[contact].runs_on = event;
    if (kind == Kind::DROPOUT) dropped_out(event, all);
    if (kind == Kind::LEAK_DECAY) leaked(event);
  }

  static std::size_t contact_of(const Event& event) {
    return static_cast<std::size_t>(event.contact);
  }

  void fed(const Event& event) {
    settle(contact_of(event));
    if (event.contact == Contact::NONE) return;
    const Measure* level = find_measure(event, "level");
    if (!level) return;
    // Where the source was measured itself, what the contact lacks is the path's.
    below(Statement::kSourceLow, event,
          find_measure(event, "supply_level") ? "supply_level" : "level");
    level_[contact_of(event)] = event;
  }

  // A source that never stood at its voltage, in a capture in which nothing was fed or ran: where
  // something did, its probe was off.
  void never_stood(double most_v) {
    const bool lived = level_[1].kind == Kind::FEED_ON || level_[2].kind == Kind::FEED_ON ||
                       ran_[0] || ran_[1] || ran_[2];
    if (lived) return;
    const Range range = lower(limits_.of(Kind::FEED_ON, Direction::UNKNOWN, "level"));
    constexpr double kProbe_v = 0.1;  // standard uncertainty (common practice, no source)
    const double low = probability_outside(range, {.value = most_v, .u = kProbe_v});
    if (low < 0.5) return;
    saw(Statement::kSourceLow, low,
        {.words = fmt::format("the source's channel never read more than {:.1f} V", most_v)});
    anything_wrong_ = true;
  }

  void started(const Event& event) {
    const std::size_t contact = contact_of(event);
    waiting_[contact].dead.reset();
    ran_[contact] = tried_[contact] = running_[contact] = true;
    inrush_[contact] = event;
  }

  void cut_off(const Event& event) {
    const std::size_t contact = contact_of(event);
    waiting_[contact].runs_on.reset();
    last_cut_ = contact;
    ++cut_[contact];
    because_of(Statement::kBothCut, reason(event));
    stopped(event);
  }

  void feed_went(const Event& event) {
    settle_runs_on(contact_of(event));
    stopped(event);
  }

  // A source that gives way under the load turns no motor: that is the source's fault.
  void locked(const Event& event) {
    anything_wrong_ = true;
    const Evidence& source = at(Statement::kSourceLow);
    if (!source.known || source.probability < 0.5)
      saw(Statement::kLocked, 0.98, reason(event, find_measure(event, "stall_current")));
  }

  void leaked(const Event& event) {
    const Measure* leak = limits_.judged_leak(event);
    if (!leak) return;
    above(Statement::kLeaks, event, leak->name);
    std::optional<Measure>& largest = leak_[event.direction == Direction::VACUUM];
    if (!largest || largest->name == leak->name) {
      if (!largest || largest->value < leak->value) largest = *leak;
    }
  }
  [[nodiscard]] bool held() const { return leak_[0] || leak_[1]; }

  // A hole that is open both ways lets different amounts through, blown and sucked: up to twice
  // where the flow is laminar, by the air's density. One-sided is what loses less than a third
  // (common practice, no source) on its other side.
  void weigh_sides() {
    const auto &blown = leak_[0], &sucked = leak_[1];
    const Evidence& leaks = at(Statement::kLeaks);
    if (!blown || !sucked || blown->name != sucked->name || leaks.probability < 0.5) return;
    const Measure &more = blown->value >= sucked->value ? *blown : *sucked,
                  &less = blown->value >= sucked->value ? *sucked : *blown;
    const double one_sided = probability_outside(
        {.max = 0}, {.value = more.value / 3 - less.value, .u = std::hypot(more.u / 3, less.u)});
    const bool is_blown = &more == &*blown;
    saw(Statement::kOnlyBlown, is_blown ? one_sided : 0.01, {});
    saw(Statement::kOnlySucked, is_blown ? 0.01 : one_sided, {});
  }

  void stopped(const Event& event) {
    running_[contact_of(event)] = false;
    if (const Missing* level = find_missing(event, "level");
        level && level->code == MissingCode::NOT_TOLD_FROM_ZERO) {
      saw(Statement::kSourceLow, 0.99, reason(event));
      anything_wrong_ = true;
    }
    above(Statement::kFeedOhm, event, "feed_path_resistance");
    above(Statement::kReturnOhm, event, "return_path_resistance");
    // What a branch's far end shows decides; how fast the pressure rises only where the plan says
    // what is normal, since a pump alone fills as little as a blocked line.
    below(Statement::kBlocked, event, "branch_share");
    if (!find_measure(event, "branch_share")) above(Statement::kBlocked, event, "rise_rate");
    winding(event);
  }

  // At a new feed, which ends no run when it is the end of a break in the wiring.
  void settle(std::size_t contact) {
    settle_dead(contact);
    if (!running_[contact]) settle_runs_on(contact);
  }

  void settle_dead(std::size_t contact) {
    if (!waiting_[contact].dead) return;
    const Event event = *std::exchange(waiting_[contact].dead, std::nullopt);
    dead_[contact] = tried_[contact] = true;
    because_of(Statement::kBothDead, reason(event));
    // Run to its limit on one contact, the other one is armed.
    if (last_cut_ != 0 && contact != 0 && contact != last_cut_) {
      armed_dead_ = true;
      because_of(Statement::kArmedDead, reason(event));
    }
  }

  void settle_runs_on(std::size_t contact) {
    if (!waiting_[contact].runs_on) return;
    const Event event = *std::exchange(waiting_[contact].runs_on, std::nullopt);
    anything_wrong_ = true;
    const Measure* p = find_measure(event, "pressure");
    double low = 0.5;
    if (p) {
      const Direction side = event.direction != Direction::UNKNOWN ? event.direction
                             : p->value < 0                        ? Direction::VACUUM
                                                                   : Direction::PRESSURE;
      const Range range = limits_.of(event.kind, side, "end_pressure");
      low = probability_outside(side == Direction::VACUUM ? upper(range) : lower(range), *p);
    }
    saw(Statement::kRunsOnFull, 1 - low, reason(event, p));
    saw(Statement::kRunsOnLow, low, reason(event, p));
  }

  // Of the wiring where a feed went in the same moment, else of the brushes.
  void dropped_out(const Event& event, const EventStore& all) {
    const Measure* length = find_measure(event, "duration");
    const double until_s = event.time_s + (length ? length->value : 0.5) + 0.02;
    bool fed = false, known = false;
    for (std::size_t i = all.first_at_or_after(event.time_s - 0.02);
         i < all.size() && all.time_s(i) < until_s && !fed; ++i)
      fed = all.kind(i) == Kind::FEED_OFF && all.time_s(i) > event.time_s - 0.02;
    for (std::size_t i = 0; i < all.size() && !known; ++i)
      known = all.kind(i) == Kind::FEED_ON && all.contact(i) != Contact::NONE;
    // Each further break makes it more certain.
    int& breaks = breaks_[fed];
    ++breaks;
    if (known)
      saw(fed ? Statement::kWiringBreaks : Statement::kBrushBreaks,
          1 - std::pow(0.03, std::min(breaks, 3)), reason(event));
  }

  // The winding's resistance: from the start itself, or else feed over inrush less the paths.
  void winding(const Event& stop) {
    if (find_measure(stop, "motor_resistance")) {
      above(Statement::kMotorOhm, stop, "motor_resistance");
      return;
    }
    const std::size_t contact = contact_of(stop);
    const Measure* level = find_measure(level_[contact], "level");
    const Measure* peak = find_measure(inrush_[contact], "inrush_peak");
    if (!level || !peak || !(peak->value > 0)) return;
    // A plan that limits the inrush has the winding judged by it.
    const auto inrush = limits_.of_plan(Kind::MOTOR_START, inrush_[contact].direction, peak->name);
    if (inrush && within(*inrush, *peak) == Within::kYes) return;
    if (within(limits_.of(Kind::FEED_ON, stop.direction, "level"),
               {.value = level->value, .u = 0}) != Within::kYes)
      return;
    const Measure *feed = find_measure(stop, "feed_path_resistance"),
                  *back = find_measure(stop, "return_path_resistance");
    if (!feed || !back) return;
    Measure ohm{.name = "motor_resistance", .unit = "Ω"};
    ohm.value = level->value / peak->value - feed->value - back->value;
    // The inrush is a little less than the stall current.
    ohm.u = ohm.value * std::hypot(peak->u / peak->value, 0.06);
    Reason because = reason(inrush_[contact], &ohm);
    because.words = fmt::format("{}, about {} in the motor", cite(inrush_[contact], peak),
                                format_quantity(ohm.value, ohm.u, ohm.unit));
    saw(Statement::kMotorOhm,
        probability_outside(upper(limits_.of(stop.kind, stop.direction, ohm.name)), ohm), because);
  }

  Limits limits_;
  std::uint32_t capture_ = 0;
  EvidenceTable table_;
  std::array<Waiting, kContacts> waiting_ = {};
  std::array<bool, kContacts> tried_ = {}, ran_ = {}, dead_ = {}, running_ = {};
  std::array<int, kContacts> cut_ = {};
  std::array<Event, kContacts> level_ = {}, inrush_ = {};  // the latest FEED_ON and MOTOR_START
  std::array<std::optional<Measure>, 2> leak_ = {};        // the largest when blown, when sucked
  std::array<int, 2> breaks_ = {};                         // of the brushes, of the wiring
  std::size_t last_cut_ = 0;
  bool armed_dead_ = false, anything_wrong_ = false;
};

EvidenceGatherer::EvidenceGatherer(Limits limits)
    : inner_(std::make_unique<Inner>(std::move(limits))) {}
EvidenceGatherer::~EvidenceGatherer() = default;
void EvidenceGatherer::take(const EventStore& events, std::size_t capture,
                            const std::optional<double>& source_most_v) {
  inner_->take(events, capture, source_most_v);
}
EvidenceTable EvidenceGatherer::finish() { return inner_->finish(); }

EvidenceTable gather_evidence(const std::vector<std::vector<Event>>& captures,
                              const Limits& limits) {
  EvidenceGatherer gatherer(limits);
  for (std::size_t k = 0; k < captures.size(); ++k) gatherer.take(EventStore(captures[k]), k);
  return gatherer.finish();
}

}  // namespace airlatch
