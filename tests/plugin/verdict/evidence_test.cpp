// SPDX-License-Identifier: GPL-3.0-or-later
// Events written down by hand, and what a mechanic would say of them (common practice, no source).
#include <gtest/gtest.h>

#include <algorithm>
#include <utility>

#include "plugin/message/plans.hpp"
#include "plugin/verdict/rules.hpp"

namespace airlatch {
namespace {

Event event(Kind kind, double time_s, Contact contact, Direction direction) {
  Event out;
  out.kind = kind;
  out.time_s = time_s;
  out.contact = contact;
  out.direction = direction;
  return out;
}

// A run from its feed to its cut-off, blown on contact A or sucked on B.
std::vector<Event> run(Contact contact, double at_s) {
  const Direction way = contact == Contact::A ? Direction::PRESSURE : Direction::VACUUM;
  Event fed = event(Kind::FEED_ON, at_s, contact, way);
  add_measure(fed, "level", {12.0, 0.02}, "V");
  Event cut = event(Kind::STALL_CUTOFF, at_s + 2, contact, way);
  add_measure(cut, "rise_rate", {60, 0.5}, "kPa/s");
  return {fed, event(Kind::MOTOR_START, at_s, contact, way), cut};
}

Event hold(Direction way, double at_s, double decay_rate_kpa_min, double share = -1) {
  Event out = event(Kind::LEAK_DECAY, at_s, Contact::NONE, way);
  add_measure(out, "decay_rate", {decay_rate_kpa_min, 0.05}, "kPa/min");
  if (share >= 0) add_measure(out, "leak_share", {share, 0.03 * share}, "1");
  return out;
}

// Blown, held, sucked, held.
std::vector<Event> both_ways(const Event& blown, const Event& sucked) {
  std::vector<Event> out = run(Contact::A, 1);
  out.push_back(blown);
  const std::vector<Event> back = run(Contact::B, 20);
  out.insert(out.end(), back.begin(), back.end());
  out.push_back(sucked);
  return out;
}

std::vector<Finding> verdict(const std::vector<Event>& events, const char* plan = nullptr) {
  return judge(gather_evidence({events}, limits_of(plan ? find_plan(plan) : Plan())));
}

// 130 ml against a finger lose 4 kPa/min through a leak that no one would look for; a car's line of
// two litres loses 1.5 through one that the pump cannot keep up with.
TEST(Evidence, ALeakIsAShareOfWhatThePumpDelivers) {
  EXPECT_EQ(verdict(both_ways(hold(Direction::PRESSURE, 3, 4, 0.001),
                              hold(Direction::VACUUM, 22, 3.5, 0.0012)))[0]
                .code,
            "SOUND");
  EXPECT_EQ(verdict(both_ways(hold(Direction::PRESSURE, 3, 1.5, 0.02),
                              hold(Direction::VACUUM, 22, 1.4, 0.03)))[0]
                .code,
            "LINE_LEAK");
}

TEST(Evidence, APlansLimitOnTheDecayRateHoldsWhereItIsTheOnlyOne) {
  Plan plan;
  plan.step.push_back({.id = "hold",
                       .expect = Kind::LEAK_DECAY,
                       .limit = {{.measure = "decay_rate", .min = {}, .max = 3}}});
  const auto findings = judge(gather_evidence(
      {both_ways(hold(Direction::PRESSURE, 3, 4, 0.001), hold(Direction::VACUUM, 22, 4, 0.001))},
      limits_of(plan)));
  EXPECT_EQ(findings[0].code, "LINE_LEAK");
}

// A laminar leak lets half as much through when sucked; a flap that closes lets nothing.
TEST(Evidence, OneSidedIsWhatHardlyLeaksOnItsOtherSide) {
  EXPECT_EQ(verdict(both_ways(hold(Direction::PRESSURE, 3, 8, 0.009),
                              hold(Direction::VACUUM, 22, 4, 0.0045)))[0]
                .code,
            "LINE_LEAK");
  EXPECT_EQ(verdict(both_ways(hold(Direction::PRESSURE, 3, 8, 0.02),
                              hold(Direction::VACUUM, 22, 0.5, 0.0003)))[0]
                .code,
            "LEAK_PRESSURE_SIDE");
  EXPECT_EQ(verdict(both_ways(hold(Direction::PRESSURE, 3, 0.5, 0.0003),
                              hold(Direction::VACUUM, 22, 8, 0.02)))[0]
                .code,
            "LEAK_VACUUM_SIDE");
}

TEST(Evidence, WithOneSideHeldTheLineLeaks) {
  std::vector<Event> events = run(Contact::A, 1);
  events.push_back(hold(Direction::PRESSURE, 3, 8, 0.02));
  EXPECT_EQ(verdict(events)[0].code, "LINE_LEAK");
}

// A pump alone fills as little as a blocked line does: only the branch's gauge, or a plan that says
// that the line is there, can tell.
TEST(Evidence, BlockedIsWhereTheAirDoesNotArrive) {
  const auto with = [](const char* measure, double value) {
    auto events =
        both_ways(hold(Direction::PRESSURE, 3, 1, 0.001), hold(Direction::VACUUM, 22, 1, 0.001));
    for (Event& each : events) {
      if (each.kind != Kind::STALL_CUTOFF) continue;
      std::erase_if(each.measures, [&](const Measure& m) { return m.name == measure; });
      add_measure(each, measure, {value, 0.01 * value + 0.001}, "");
    }
    return events;
  };
  EXPECT_EQ(verdict(with("branch_share", 0.01))[0].code, "LINE_BLOCKED");
  EXPECT_EQ(verdict(with("branch_share", 0.9))[0].code, "SOUND");
  EXPECT_EQ(verdict(with("rise_rate", 400))[0].code, "SOUND");
  EXPECT_EQ(verdict(with("rise_rate", 400), "bench-pump")[0].code, "SOUND");
  EXPECT_EQ(verdict(with("rise_rate", 400), "in-car")[0].code, "LINE_BLOCKED");
}

// A hand pump and a gauge: nothing is said of a source or a pump that nobody measured.
TEST(Evidence, PressureAloneSpeaksOfWhatWasHeld) {
  const auto tight = gather_evidence({{hold(Direction::PRESSURE, 3, 0.2)}}, limits_of({}));
  EXPECT_EQ(judge(tight)[0].code, "SOUND");
  EXPECT_EQ(judge(tight)[0].title, "What was held is tight");
  for (const Finding& finding : judge(tight))
    EXPECT_TRUE(finding.code == "SOUND" || finding.code == "NOT_ENOUGH_TESTED" ||
                is_leak(finding.code))
        << finding.code;
  const std::vector<std::string> codes = untested(tight);
  for (const char* code : {"SOURCE_DEAD", "MOTOR_SEIZED", "CUTOFF_MISSING", "LINE_BLOCKED"})
    EXPECT_NE(std::find(codes.begin(), codes.end(), code), codes.end()) << code;
  EXPECT_EQ(verdict({hold(Direction::PRESSURE, 3, 9)})[0].title, "What was held leaks");
}

// The whole line and its branches one by one are blown only: the vacuum side is not asked for.
TEST(Evidence, APlanThatRunsOneWayIsDoneWithOneWay) {
  std::vector<Event> events = run(Contact::A, 1);
  events.push_back(hold(Direction::PRESSURE, 3, 1, 0.001));
  EXPECT_EQ(verdict(events, "branch-isolation")[0].code, "SOUND");
  EXPECT_EQ(verdict(events)[0].code, "NOT_ENOUGH_TESTED");
}

TEST(Evidence, BreaksOfTheBrushesAddUp) {
  const auto with_breaks = [](int n) {
    auto events =
        both_ways(hold(Direction::PRESSURE, 3, 1, 0.001), hold(Direction::VACUUM, 22, 1, 0.001));
    for (int k = 0; k < n; ++k) {
      Event dip = event(Kind::DROPOUT, 1.5 + 0.1 * k, Contact::A, Direction::PRESSURE);
      add_measure(dip, "duration", {0.01, 1e-4}, "s");
      events.insert(events.begin() + 2, dip);
    }
    return verdict(events);
  };
  EXPECT_EQ(with_breaks(0)[0].code, "SOUND");
  EXPECT_EQ(with_breaks(3)[0].code, "MOTOR_WORN");
  EXPECT_GT(with_breaks(3)[0].likelihood, with_breaks(2)[0].likelihood);
}

// Its motor stands still for want of voltage.
TEST(Evidence, ASourceThatGivesWayIsNoSeizedMotor) {
  Event fed = event(Kind::FEED_ON, 1, Contact::A, Direction::UNKNOWN);
  add_measure(fed, "level", {5.5, 0.02}, "V");
  Event locked = event(Kind::LOCKED_ROTOR, 1.2, Contact::A, Direction::UNKNOWN);
  add_measure(locked, "stall_current", {5, 0.05}, "A");
  const auto start = event(Kind::MOTOR_START, 1, Contact::A, Direction::UNKNOWN);
  const auto stop = event(Kind::MOTOR_STOP, 3, Contact::A, Direction::UNKNOWN);
  EXPECT_EQ(verdict({fed, start, locked, stop})[0].code, "SOURCE_DEAD");
  fed.measures.clear();
  add_measure(fed, "level", {11.5, 0.02}, "V");
  EXPECT_EQ(verdict({fed, start, locked, stop})[0].code, "MOTOR_SEIZED");
}

// Nine volts at the contact and twelve at the source: the path lost them, not the source.
TEST(Evidence, TheSourceIsJudgedByItsOwnVoltage) {
  const auto with = [](double source_v) {
    Event fed = event(Kind::FEED_ON, 1, Contact::A, Direction::PRESSURE);
    add_measure(fed, "level", {7.5, 0.02}, "V");
    if (source_v > 0) add_measure(fed, "supply_level", {source_v, 0.02}, "V");
    const EvidenceTable table = gather_evidence({{fed}}, limits_of({}));
    return table[static_cast<std::size_t>(Statement::kSourceLow)].probability;
  };
  EXPECT_GT(with(7.6), 0.95);
  EXPECT_LT(with(12.2), 0.05);
  EXPECT_GT(with(0), 0.95);  // nobody measured the source itself
}

// Nothing happens, since nothing is there: the gauge at the source says so. Beside a motor that runs
// it is the gauge that is not joined.
TEST(Evidence, ASourceThatNeverStoodIsDead) {
  const auto with = [](const std::vector<Event>& events, double most_v) {
    EvidenceGatherer gatherer(limits_of({}));
    gatherer.take(EventStore(events), 0, most_v);
    return judge(gatherer.finish())[0].code;
  };
  EXPECT_EQ(with({}, 0.1), "SOURCE_DEAD");
  EXPECT_EQ(with({}, 12.4), "NOT_ENOUGH_TESTED");
  EXPECT_EQ(
      with(both_ways(hold(Direction::PRESSURE, 3, 1, 0.001), hold(Direction::VACUUM, 22, 1, 0.001)),
           0.1),
      "SOUND");
}

}  // namespace
}  // namespace airlatch
