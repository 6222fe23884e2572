// SPDX-License-Identifier: GPL-3.0-or-later
// A plan's limits are the only ones: no plan exists for which all steps pass and a finding accuses
// what they passed. Plans are drawn over rehearsals of every fault and over drawn events, with
// limits close around what was measured; and a user's own plan changes whoever judges.
#include <gtest/gtest.h>

#include <cmath>
#include <cstdio>
#include <map>
#include <random>

#include "plugin/airlatch.h"
#include "plugin/live/guide.hpp"
#include "plugin/message/plans.hpp"
#include "plugin/message/text_format.hpp"
#include "plugin/message/wire.hpp"
#include "plugin/session/steps.hpp"
#include "plugin/verdict/rules.hpp"
#include "tests/properties/rehearsed_events.hpp"

namespace airlatch {
namespace {
using namespace test;

using Random = std::mt19937_64;
using Captures = std::vector<std::vector<Event>>;

bool chance(Random& random, double p) {
  return std::uniform_real_distribution(0.0, 1.0)(random) < p;
}
std::size_t below(Random& random, std::size_t n) {
  return std::uniform_int_distribution<std::size_t>(0, n - 1)(random);
}
template <typename List>
const auto& one_of(Random& random, const List& list) {
  return *(std::begin(list) + static_cast<std::ptrdiff_t>(below(random, std::size(list))));
}

std::vector<Event> joined(const Captures& captures) {
  std::vector<Event> out;
  for (const auto& events : captures) out.insert(out.end(), events.begin(), events.end());
  return out;
}

// ---- Plans

// Whether a plan's limits are all meant to hold, most, or none in particular.
enum class Meant { kHold, kMostly, kAny };

// A bound beside a value: at its guard band, around it, or far away. +1: above it.
double bound_beside(Random& random, const Measure& m, int side, Meant meant) {
  static constexpr double kHold[] = {2.001, 2.001, 2.1, 3, 10, 100};
  static constexpr double kAny[] = {2, 1.9, 0, -2, -2.1, -50};
  const bool any = chance(random, meant == Meant::kHold ? 0 : meant == Meant::kMostly ? 0.1 : 0.6);
  if (m.u == 0 && chance(random, 0.3)) return m.value;  // just good enough
  const double u = m.u > 0 ? m.u : 0.01 * std::abs(m.value);
  return m.value + side * (any ? one_of(random, kAny) : one_of(random, kHold)) * u;
}

Plan::Limit draw_limit(Random& random, const Event& event, Meant meant) {
  static constexpr const char* kOthers[] = {"level", "end_pressure", "decay_rate", "no_such"};
  Plan::Limit limit;
  if (event.measures.empty() || (meant == Meant::kAny && chance(random, 0.1))) {
    limit.measure = one_of(random, kOthers);
    limit.max = 1e3;
    return limit;
  }
  const Measure& m = one_of(random, event.measures);
  limit.measure = m.name;
  const bool both = chance(random, 0.3);
  if (both || chance(random, 0.5)) limit.min = bound_beside(random, m, -1, meant);
  if (both || !limit.min) limit.max = bound_beside(random, m, 1, meant);
  return limit;
}

// Steps wait mostly for what was seen; their limits lie around what they will take.
Plan draw_plan(Random& random, const std::vector<Event>& events) {
  static constexpr Meant kMeant[] = {Meant::kHold, Meant::kHold, Meant::kMostly, Meant::kAny};
  const Meant meant = one_of(random, kMeant);
  Plan plan;
  for (std::size_t n = 1 + below(random, 5); n > 0; --n) {
    Plan::Step step;
    step.expect = static_cast<Kind>(1 + below(random, kKinds - 1));
    step.direction = static_cast<Direction>(below(random, 3));
    if (!events.empty() && chance(random, meant == Meant::kAny ? 0.9 : 1)) {
      const Event& event = one_of(random, events);
      step.expect = event.kind;
      step.direction = chance(random, 0.3) ? Direction::UNKNOWN : event.direction;
    }
    plan.step.push_back(step);
    if (meant != Meant::kAny && !events_of_steps(plan, events).back()) plan.step.pop_back();
  }
  const auto taken = events_of_steps(plan, events);
  for (std::size_t k = 0; k < taken.size(); ++k)
    for (std::size_t n = below(random, 4); n > 0 && taken[k] && !taken[k]->measures.empty(); --n)
      plan.step[k].limit.push_back(draw_limit(random, *taken[k], meant));
  return plan;
}

// ---- The property

bool all_pass(const std::vector<Report::StepResult>& steps) {
  return std::all_of(steps.begin(), steps.end(),
                     [](const auto& step) { return step.outcome == Outcome::PASS; });
}

bool holds(const std::vector<std::string>& list, const std::string& text) {
  return std::any_of(list.begin(), list.end(), [&](const std::string& one) {
    return one.compare(0, text.size(), text) == 0;
  });
}

// Statements that are no fault: nothing was tried, all was run to its end.
bool accuses(std::size_t statement) {
  return statement != static_cast<std::size_t>(Statement::kUntried) &&
         statement != static_cast<std::size_t>(Statement::kBothCut);
}

// Whether any statement, or the finding that stands first where it is a fault, rests on `text`.
void expect_not_cited(const std::string& text, const EvidenceTable& table, const Plan& plan) {
  for (std::size_t s = 0; s < kStatements; ++s) {
    if (table[s].probability <= 0.5 || !accuses(s)) continue;
    EXPECT_FALSE(holds(table[s].because, text)) << "statement " << s << ": " << text << "\n"
                                                << print_text(plan);
  }
  const Finding first = judge(table)[0];
  EXPECT_FALSE(is_fault(first.code) && holds(first.evidence, text))
      << first.code << ": " << text << "\n"
      << print_text(plan);
}

// The event with nothing but what the step limits: by itself it says nothing bad.
void expect_says_nothing_bad(const Event& event, const Plan::Step& step, const Plan& plan) {
  Event alone = event;
  alone.missing.clear();
  alone.measures.clear();
  for (const Plan::Limit& limit : step.limit)
    alone.measures.push_back(*find_measure(event, limit.measure));
  const EvidenceTable table = gather_evidence({{alone}}, limits_of(plan));
  for (std::size_t s = 0; s < kStatements; ++s) {
    if (!accuses(s) || !table[s].known) continue;
    EXPECT_LE(table[s].probability, 0.5) << "statement " << s << ": " << cite(event) << "\n"
                                         << print_text(plan);
  }
}

// What was reported of a run before it cut off all the same: RUN_ON in it, NO_RESPONSE of its feed.
std::vector<Event> overtaken(const Event& stop, const std::vector<Event>& capture) {
  double start_s = -1, feed_s = -1;
  for (const Event& event : capture)
    if (event.contact == stop.contact && event.kind == Kind::MOTOR_START &&
        event.time_s < stop.time_s)
      start_s = std::max(start_s, event.time_s);
  for (const Event& event : capture)
    if (event.contact == stop.contact && event.kind == Kind::FEED_ON && event.time_s < start_s)
      feed_s = std::max(feed_s, event.time_s);
  std::vector<Event> out;
  for (const Event& event : capture) {
    if (event.contact != stop.contact || event.time_s > stop.time_s) continue;
    if ((event.kind == Kind::RUN_ON && start_s >= 0 && event.time_s >= start_s) ||
        (event.kind == Kind::NO_RESPONSE && feed_s >= 0 && event.time_s >= feed_s))
      out.push_back(event);
  }
  return out;
}

// Kinds that are evidence by being there, whatever they measure.
bool waited_for_as_a_fault(Kind kind) {
  return kind == Kind::NO_RESPONSE || kind == Kind::RUN_ON || kind == Kind::LOCKED_ROTOR ||
         kind == Kind::DROPOUT;
}

struct Count {
  int plans = 0, passed = 0, measures = 0, overtaken = 0;
};

void check(const Plan& plan, const Captures& captures, Count& count) {
  const std::vector<Event> events = joined(captures);
  ++count.plans;
  if (!all_pass(judge_steps(plan, events))) return;
  ++count.passed;
  const EvidenceTable table = gather_evidence(captures, limits_of(plan));
  const auto taken = events_of_steps(plan, events);
  for (std::size_t k = 0; k < plan.step.size(); ++k) {
    expect_says_nothing_bad(*taken[k], plan.step[k], plan);
    if (waited_for_as_a_fault(taken[k]->kind)) expect_not_cited(cite(*taken[k]), table, plan);
    for (const Plan::Limit& limit : plan.step[k].limit) {
      ++count.measures;
      expect_not_cited(cite(*taken[k], find_measure(*taken[k], limit.measure)), table, plan);
    }
    if (taken[k]->kind != Kind::STALL_CUTOFF) continue;
    for (const auto& capture : captures) {
      if (std::find(capture.begin(), capture.end(), *taken[k]) == capture.end()) continue;
      for (const Event& event : overtaken(*taken[k], capture)) {
        ++count.overtaken;
        expect_not_cited(cite(event), table, plan);
      }
    }
  }
}

void print(const char* of, const Count& count) {
  std::printf("%s: %d plans drawn, %d passed all steps; %d measures passed, %d reports overtaken\n",
              of, count.plans, count.passed, count.measures, count.overtaken);
}

struct TimeLimits {
  double response_s, run_s;
};

TEST(Limits, NothingThatRehearsalsPassedIsAccused) {
  Random random(20'260'301);
  Count count;
  for (const Rehearsal& r : rehearse_all(250, 4))
    for (const auto& [response_s, run_s] :
         {TimeLimits{0.3, 15}, TimeLimits{0.01, 0.4}, TimeLimits{0.002, 1.3}}) {
      const Plan times{.response_limit_s = response_s, .run_limit_s = run_s};
      const Captures captures = {decode_by(r, times)};
      for (const BuiltInPlan& built_in : built_in_plans())
        check(find_plan(built_in.name), captures, count);
      for (int k = 0; k < 150 && !HasFailure(); ++k) {
        Plan plan = draw_plan(random, captures[0]);
        plan.response_limit_s = response_s;
        plan.run_limit_s = run_s;
        check(plan, captures, count);
      }
    }
  print("rehearsals", count);
  EXPECT_GE(count.passed, 0.4 * count.plans);
  EXPECT_GE(count.overtaken, 100);
}

// ---- Drawn events

Measure draw_measure(Random& random, const char* name, double typical, const char* unit) {
  Measure m{.name = name, .unit = unit};
  m.value = typical * std::pow(10.0, std::uniform_real_distribution(-1.0, 1.0)(random));
  if (chance(random, 0.05)) m.value = typical;
  if (chance(random, 0.05)) m.value = 0;
  m.u = chance(random, 0.2) ? 0 : std::abs(m.value) * std::pow(10.0, -1 - 3 * chance(random, 0.5));
  return m;
}

// Runs, one after the other, with whatever can be reported of them, each instant its own.
class DrawnCapture {
 public:
  DrawnCapture(Random& random, double from_s) : random_(random), now_s_(from_s) {
    for (std::size_t n = 1 + below(random_, 5); n > 0; --n) draw_run();
  }
  [[nodiscard]] const std::vector<Event>& events() const { return events_; }
  [[nodiscard]] double end_s() const { return now_s_; }

 private:
  Event& add(Kind kind) {
    now_s_ += 0.125;
    Event& event = events_.emplace_back();
    event.kind = kind;
    event.time_s = now_s_;
    event.time_u_s = 1e-3;
    event.contact = contact_;
    event.direction = chance(random_, 0.2) ? Direction::UNKNOWN : direction_;
    return event;
  }
  void measure(Event& event, const char* name, double typical, const char* unit) {
    if (chance(random_, 0.15))
      add_missing(event, name, one_of(random_, kCodes), "not drawn");
    else
      event.measures.push_back(draw_measure(random_, name, typical, unit));
  }
  void feed() { measure(add(Kind::FEED_ON), "level", 9, "V"); }
  void no_response() { measure(add(Kind::NO_RESPONSE), "waited", 0.3, "s"); }
  void runs_on() { measure(add(Kind::RUN_ON), "pressure", sign() * 35, "kPa"); }
  void locked() { measure(add(Kind::LOCKED_ROTOR), "stall_current", 12, "A"); }
  void drop_out() {
    const bool wiring = chance(random_, 0.5);
    measure(add(Kind::DROPOUT), "duration", 0.05, "s");
    if (!wiring) return;
    Event off = events_.back();
    off.kind = Kind::FEED_OFF;
    off.measures.clear();
    off.missing.clear();
    events_.push_back(off);
    feed();
  }
  void stop() {
    Event& event = add(chance(random_, 0.7) ? Kind::STALL_CUTOFF : Kind::MOTOR_STOP);
    measure(event, "end_pressure", sign() * 35, "kPa");
    measure(event, "rise_rate", 150, "kPa/s");
    measure(event, "feed_path_resistance", 0.25, "Ω");
    measure(event, "return_path_resistance", 0.25, "Ω");
    measure(event, "motor_resistance", 1.3, "Ω");
    if (chance(random_, 0.03))
      add_missing(event, "level", MissingCode::NOT_TOLD_FROM_ZERO, "not drawn");
  }
  void draw_run() {
    contact_ = static_cast<Contact>(below(random_, 3));
    direction_ = static_cast<Direction>(below(random_, 3));
    if (chance(random_, 0.9)) feed();
    if (chance(random_, 0.3)) no_response();
    if (chance(random_, 0.8)) {
      measure(add(Kind::MOTOR_START), "inrush_peak", 9, "A");
      if (chance(random_, 0.2)) locked();
      if (chance(random_, 0.3)) drop_out();
      if (chance(random_, 0.4)) runs_on();
      if (chance(random_, 0.3)) drop_out();
      stop();
    }
    if (chance(random_, 0.7)) add(Kind::FEED_OFF);
    if (chance(random_, 0.6)) measure(add(Kind::LEAK_DECAY), "decay_rate", 2, "kPa/min");
  }
  [[nodiscard]] int sign() const { return direction_ == Direction::VACUUM ? -1 : 1; }

  static constexpr MissingCode kCodes[] = {MissingCode::NO_CHANNEL, MissingCode::TOO_SLOW,
                                           MissingCode::DISTURBED};
  Random& random_;
  double now_s_;
  Contact contact_ = Contact::NONE;
  Direction direction_ = Direction::UNKNOWN;
  std::vector<Event> events_;
};

TEST(Limits, NothingThatDrawnEventsPassedIsAccused) {
  Random random(20'260'302);
  Count count;
  for (int draw = 0; draw < 400 && !HasFailure(); ++draw) {
    const DrawnCapture first(random, 0), second(random, first.end_s());
    Captures captures = {first.events()};
    if (chance(random, 0.3)) captures.push_back(second.events());
    for (int k = 0; k < 40 && !HasFailure(); ++k)
      check(draw_plan(random, joined(captures)), captures, count);
  }
  print("drawn events", count);
  EXPECT_GE(count.passed, 0.4 * count.plans);
  EXPECT_GE(count.overtaken, 1000);
}

// ---- A user's own plan changes whoever judges.

std::string own_plan(double decay_kpa_min) {
  return "step { expect: LEAK_DECAY limit { measure: \"decay_rate\" max: " +
         std::to_string(decay_kpa_min) + " } }";
}

// Blown up and sucked down, each run to its cut-off, then left alone.
std::vector<Event> held(const Measure& decay) {
  std::vector<Event> out;
  double time_s = 0;
  for (const auto& [contact, direction] :
       {std::pair{Contact::A, Direction::PRESSURE}, std::pair{Contact::B, Direction::VACUUM}}) {
    for (const Kind kind : {Kind::MOTOR_START, Kind::STALL_CUTOFF, Kind::LEAK_DECAY})
      out.push_back({.kind = kind, .time_s = ++time_s, .direction = direction, .contact = contact});
    out.back().measures.push_back(decay);
    Event& stop = out[out.size() - 2];
    add_measure(stop, "run_time", {4, 0.01}, "s");
    add_measure(stop, "rise_rate", {60, 0.5}, "kPa/s");
    add_measure(stop, "feed_path_resistance", {0.1, 0.01}, "Ω");
    add_measure(stop, "return_path_resistance", {0.1, 0.01}, "Ω");
  }
  return out;
}
const Measure kSlow{.name = "decay_rate", .value = 3.85, .u = 0.05, .unit = "kPa/min"};

std::string first_finding(const std::vector<Event>& events, const Plan& plan) {
  return judge(gather_evidence({events}, limits_of(plan)))[0].code;
}

TEST(Limits, ALineThatTheCarsPlanAllowsIsNoLeak) {
  const Plan in_car = find_plan("in-car");
  EXPECT_TRUE(all_pass(judge_steps(in_car, held(kSlow))));
  EXPECT_EQ(first_finding(held(kSlow), in_car), "SOUND");
  EXPECT_EQ(first_finding(held(kSlow), {}), "LINE_LEAK");  // the built-in limit is 2

  const Rehearsal r = rehearse({.fault = "line-leak",
                                .rate_hz = 250,
                                .seed = 7,
                                .noise = 0.3,
                                .hold_s = 60,
                                .leak_tau_s = 880});
  const std::vector<Event> events = decode_by(r, in_car);
  for (const Event& event : events)
    for (const Event& truth : r.truth) {
      const bool same = event.kind == Kind::LEAK_DECAY && truth.kind == event.kind &&
                        truth.direction == event.direction;
      if (!same) continue;
      // Where the window starts: the rehearsed leak is exactly exponential.
      const double since_s = event.time_s - truth.time_s;
      const double rate = find_measure(truth, "decay_rate")->value *
                          std::exp(-since_s / find_measure(truth, "time_constant")->value);
      EXPECT_NEAR(find_measure(event, "decay_rate")->value, rate, 0.12);
      EXPECT_NEAR(rate, 3.7, 0.2);
    }
  EXPECT_TRUE(all_pass(judge_steps(in_car, events)));
  EXPECT_EQ(first_finding(events, in_car), "SOUND");
  // The pump that filled it was measured: of what that delivers it is a thousandth.
  EXPECT_EQ(first_finding(events, {}), "SOUND");
}

TEST(Limits, OwnPlanInSteps) {
  for (const auto& [most, outcome] : {std::pair{5, Outcome::PASS}, std::pair{3, Outcome::FAIL}})
    EXPECT_EQ(judge_steps(parse_text<Plan>(own_plan(most)), held(kSlow))[0].outcome, outcome);
}

TEST(Limits, OwnPlanInTheVerdict) {
  EXPECT_EQ(first_finding(held(kSlow), parse_text<Plan>(own_plan(5))), "SOUND");
  EXPECT_EQ(first_finding(held(kSlow), parse_text<Plan>(own_plan(3))), "LINE_LEAK");
}

TEST(Limits, OwnPlanInTheGuide) {
  const auto said_of = [](const char* plan, double level_v) {
    Guide guide(parse_text<Plan>(plan));
    Event feed{.kind = Kind::FEED_ON, .contact = Contact::A};
    add_measure(feed, "level", {level_v, 0.01}, "V");
    guide.on_event(feed);
    const auto news = guide.news();
    return std::any_of(news.begin(), news.end(), [](const std::string& text) {
      return text.find("source is low") != std::string::npos;
    });
  };
  const char* asks_for = R"(step { expect: FEED_ON limit { measure: "level" min: 12 } })";
  const char* allows = R"(step { expect: FEED_ON limit { measure: "level" min: 6 } })";
  EXPECT_TRUE(said_of("", 8));
  EXPECT_FALSE(said_of(allows, 8));
  EXPECT_FALSE(said_of("", 11));
  EXPECT_TRUE(said_of(asks_for, 11));
}

// The first finding of the report that a foreign host gets.
std::string finding_for_a_host(const Rehearsal& r, const std::string& plan) {
  const std::string rig = print_text(r.rig);
  std::vector<airlatch_channel> channels;
  for (const auto& channel : r.channels) channels.push_back({channel.name.c_str(), 0});
  airlatch_options options = AIRLATCH_OPTIONS_INIT;
  options.rig = rig.data();
  options.rig_size = rig.size();
  options.plan = plan.data();
  options.plan_size = plan.size();
  options.channels = channels.data();
  options.channel_count = channels.size();
  airlatch_decoder* decoder = nullptr;
  EXPECT_EQ(airlatch_create(&options, &decoder), AIRLATCH_OK) << airlatch_last_error(nullptr);
  for (std::size_t c = 0; c < r.channels.size(); ++c) {
    airlatch_block block = {};
    block.struct_size = sizeof block;
    block.channel = static_cast<std::uint32_t>(c);
    block.period_num_ns = r.clock.num_ns;
    block.period_den = r.clock.den;
    block.floats = r.channels[c].values.data();
    block.count = r.channels[c].values.size();
    EXPECT_EQ(airlatch_push(decoder, &block), AIRLATCH_OK) << airlatch_last_error(decoder);
  }
  EXPECT_EQ(airlatch_finish(decoder), AIRLATCH_OK);
  const void* bytes = nullptr;
  std::size_t size = 0;
  EXPECT_EQ(airlatch_report(decoder, &bytes, &size), AIRLATCH_OK);
  Report report;
  EXPECT_TRUE(from_wire({static_cast<const char*>(bytes), size}, report));
  airlatch_destroy(decoder);
  return report.findings.at(0).code;
}

TEST(Limits, OwnPlanInTheCInterface) {
  const Rehearsal r = rehearse({.fault = "line-leak", .rate_hz = 250, .seed = 8, .hold_s = 8});
  EXPECT_EQ(finding_for_a_host(r, own_plan(2)), "LINE_LEAK");
  EXPECT_EQ(finding_for_a_host(r, own_plan(500)), "SOUND");
}

// ---- How limits are put together

TEST(Limits, AllOfAStepHoldAndOfSeveralStepsTheWidest) {
  const char* level_within = R"(step { expect: FEED_ON
    limit { measure: "level" min: 9 } limit { measure: "level" max: 15 } limit { measure: "level" min: 10 } })";
  const Range one = limits_of(parse_text<Plan>(level_within)).of(Kind::FEED_ON, {}, "level");
  EXPECT_EQ(one.min, 10);
  EXPECT_EQ(one.max, 15);
  const std::string wider =
      std::string(level_within) + R"(step { expect: FEED_ON limit { measure: "level" min: 7 } })";
  const Range both = limits_of(parse_text<Plan>(wider)).of(Kind::FEED_ON, {}, "level");
  EXPECT_EQ(both.min, 7);
  EXPECT_EQ(both.max, std::nullopt);
}

// What is too much of the one thing is not too little of it.
TEST(Limits, AFindingIsOfTheSideThatIsBroken) {
  Event feed{.kind = Kind::FEED_ON, .time_s = 1, .contact = Contact::A};
  add_measure(feed, "level", {16, 0.01}, "V");
  const char* most = R"(step { expect: FEED_ON limit { measure: "level" min: 9 max: 15 } })";
  const Plan plan = parse_text<Plan>(most);
  EXPECT_EQ(judge_steps(plan, {feed})[0].outcome, Outcome::FAIL);
  const auto low = static_cast<std::size_t>(Statement::kSourceLow);
  EXPECT_LT(gather_evidence({{feed}}, limits_of(plan))[low].probability, 0.5);
  feed.measures[0].value = 8;
  EXPECT_GT(gather_evidence({{feed}}, limits_of(plan))[low].probability, 0.5);

  const char* range = R"(step { expect: STALL_CUTOFF direction: PRESSURE
    limit { measure: "end_pressure" min: 35 max: 60 } })";
  Event runs_on{.kind = Kind::RUN_ON, .time_s = 1, .direction = Direction::PRESSURE};
  add_measure(runs_on, "pressure", {70, 0.1}, "kPa");
  const auto table = gather_evidence({{runs_on}}, limits_of(parse_text<Plan>(range)));
  EXPECT_GT(table[static_cast<std::size_t>(Statement::kRunsOnFull)].probability, 0.5);
  EXPECT_LT(table[static_cast<std::size_t>(Statement::kRunsOnLow)].probability, 0.5);
}

}  // namespace
}  // namespace airlatch
