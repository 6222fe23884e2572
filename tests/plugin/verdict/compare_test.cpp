// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/verdict/compare.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdio>

#include "decoders/context.hpp"
#include "plugin/message/plans.hpp"
#include "plugin/rehearse/faults.hpp"
#include "plugin/rehearse/rehearsal.hpp"
#include "tests/support/score.hpp"

namespace airlatch {
namespace {
using namespace test;

std::vector<Event> events(const RehearseOptions& options) {
  return decode_rehearsal(rehearse(options));
}

// The same system twice, with other noise: no change is real, in at least 94 of 100 measures.
TEST(Compare, NoChangeIsNoRealChange) {
  int same = 0, all = 0;
  for (std::uint64_t seed = 900'000; seed < 900'015; ++seed) {
    const RehearseOptions options = {
        .fault = seed % 2 ? "sound" : "line-leak", .rate_hz = 1000, .seed = seed, .hold_s = 8};
    RehearseOptions again = options;
    again.noise_seed = seed + 7;
    for (const Report::Change& line :
         compare_events(events(options), events(again), limits_of({}))) {
      if (line.measure.empty() || line.verdict == kNotComparable) continue;
      ++all;
      same += line.verdict == kNoRealChange;
    }
  }
  std::printf("no real change in %d of %d\n", same, all);
  EXPECT_GE(all, 300);
  EXPECT_GE(same, 0.94 * all);
}

bool claims(const Report::Change& line) {
  return line.verdict == kImproved || line.verdict == kWorse;
}

// Half the leak is an improvement; the same leak held twice is none.
TEST(Compare, HalfTheLeakIsImproved) {
  int improved = 0, all = 0;
  for (std::uint64_t seed = 910'000; seed < 910'010; ++seed) {
    const RehearseOptions leaky = {
        .fault = "sound", .rate_hz = 1000, .seed = seed, .hold_s = 15, .leak_tau_s = 40};
    RehearseOptions half = leaky, again = leaky;
    half.leak_tau_s = 80;
    half.noise_seed = again.noise_seed = seed + 7;
    const auto was = events(leaky);
    for (const Report::Change& line : compare_events(was, events(half), limits_of({})))
      if (line.measure == "decay_rate" || line.measure == "leak_share") {
        ++all;
        improved += line.verdict == kImproved;
      }
    for (const Report::Change& line : compare_events(was, events(again), limits_of({})))
      EXPECT_FALSE(claims(line)) << line.event << " " << line.measure;
  }
  EXPECT_GE(all, 20);
  EXPECT_EQ(improved, all);
}

// The same car on another source, in another order of the contacts, after another hold: nothing of
// it is better or worse.
TEST(Compare, OtherConditionsAreNoRepair) {
  for (std::uint64_t seed = 920'000; seed < 920'006; ++seed) {
    const RehearseOptions options = {.fault = "sound", .rate_hz = 1000, .seed = seed, .hold_s = 8};
    RehearseOptions longer = options;
    longer.hold_s = 14;
    longer.noise = 2;
    longer.noise_seed = seed + 3;
    for (const Report::Change& line :
         compare_events(events(options), events(longer), limits_of({})))
      EXPECT_FALSE(claims(line)) << line.event << " " << line.measure;
  }
  Event fed_well, fed_ill, was, is;
  fed_well.kind = fed_ill.kind = Kind::FEED_ON;
  was.kind = is.kind = Kind::STALL_CUTOFF;
  add_measure(fed_well, "level", {12.6, 0.02}, "V");
  add_measure(fed_ill, "level", {11.4, 0.02}, "V");
  add_measure(was, "run_time", {3, 0.01}, "s");
  add_measure(is, "run_time", {4.6, 0.01}, "s");
  Plan plan;
  plan.step.push_back({.id = "run",
                       .expect = Kind::STALL_CUTOFF,
                       .limit = {{.measure = "run_time", .min = {}, .max = 4}}});
  const auto lines = compare_events({fed_well, was}, {fed_ill, is}, limits_of(plan));
  const auto run = std::find_if(lines.begin(), lines.end(),
                                [](const auto& line) { return line.measure == "run_time"; });
  ASSERT_NE(run, lines.end());
  EXPECT_EQ(run->verdict, kNotComparable);
  EXPECT_NE(run->reason.find("source voltage"), std::string::npos);
  const auto alike = compare_events({fed_well, was}, {fed_well, is}, limits_of(plan));
  EXPECT_TRUE(std::any_of(alike.begin(), alike.end(), [](const auto& line) {
    return line.measure == "run_time" && line.verdict == kWorse;
  }));
}

// A leak goes with the pressure that it is held at: what is left of it at half the pressure is not
// mended.
TEST(Compare, ALeakIsComparedAtOnePressure) {
  const auto held = [](double start_kpa, double rate) {
    Event out;
    out.kind = Kind::LEAK_DECAY;
    out.direction = Direction::PRESSURE;
    add_measure(out, "start_pressure", {start_kpa, 0.1}, "kPa");
    add_measure(out, "decay_rate", {rate, 0.05}, "kPa/min");
    return std::vector<Event>{out};
  };
  const auto rate = [&](const std::vector<Report::Change>& lines) {
    return std::find_if(lines.begin(), lines.end(),
                        [](const auto& line) { return line.measure == "decay_rate"; });
  };
  const auto lower = compare_events(held(45, 9), held(34, 6.8), limits_of({}));
  EXPECT_EQ(rate(lower)->verdict, kNoRealChange);
  const auto far = compare_events(held(45, 9), held(10, 2), limits_of({}));
  EXPECT_EQ(rate(far)->verdict, kNotComparable);
  const auto mended = compare_events(held(45, 9), held(40, 0.5), limits_of({}));
  EXPECT_EQ(rate(mended)->verdict, kImproved);
}

// Within its limit and hardly moved beside it: changed, at most.
TEST(Compare, WithoutALimitOrWellInsideItNothingIsClaimed) {
  Event was, is;
  was.kind = is.kind = Kind::STALL_CUTOFF;
  add_measure(was, "feed_path_resistance", {0.050, 1e-4}, "Ω");
  add_measure(is, "feed_path_resistance", {0.070, 1e-4}, "Ω");
  add_measure(was, "shaft_speed", {5000, 1}, "rev/min");
  add_measure(is, "shaft_speed", {6000, 1}, "rev/min");
  for (const Report::Change& line : compare_events({was}, {is}, limits_of({})))
    EXPECT_EQ(line.verdict, kChanged) << line.measure;
}

// What a repair was for is told: each fault against the sound car.
TEST(Compare, EachRepairIsTold) {
  const auto sound =
      events({.fault = "sound", .rate_hz = 1000, .seed = 930'000, .noise_seed = 5, .hold_s = 10});
  for (const Fault& fault : faults()) {
    const std::string finding = fault.finding;
    if (finding.empty() || finding == "SOUND" || finding == "NOT_ENOUGH_TESTED" ||
        std::string(fault.name) == "command-pump")
      continue;
    const auto broken =
        events({.fault = fault.name, .rate_hz = 1000, .seed = 930'000, .hold_s = 10});
    // That a line is there, and how fast it fills, the plan says.
    const Limits limits = limits_of(find_plan("in-car"));
    const auto mended = compare_events(broken, sound, limits);
    const auto told = [](const auto& lines, const char* verdict) {
      return std::any_of(lines.begin(), lines.end(),
                         [&](const auto& line) { return line.verdict == verdict; });
    };
    EXPECT_TRUE(told(mended, kImproved)) << fault.name;
    for (const Report::Change& line : mended)
      EXPECT_NE(line.verdict, kWorse) << fault.name << " " << line.event << " " << line.measure;
    EXPECT_TRUE(told(compare_events(sound, broken, limits), kWorse)) << fault.name;
  }
}

TEST(Compare, EventsAndMeasuresOnOneSideAreReported) {
  Event stop;
  stop.kind = Kind::MOTOR_STOP;
  stop.direction = Direction::PRESSURE;
  add_measure(stop, "run_time", {3, 0.01}, "s");
  Event cut = stop;
  cut.kind = Kind::STALL_CUTOFF;
  cut.measures = {};
  add_missing(cut, "run_time", MissingCode::CUT_SHORT, "the run began before the capture");
  Event decay;
  decay.kind = Kind::LEAK_DECAY;
  decay.direction = Direction::VACUUM;
  const auto lines = compare_events({stop}, {cut, decay}, limits_of({}));
  ASSERT_EQ(lines.size(), 3U);
  EXPECT_EQ(lines[0].reason, "seen after only");
  EXPECT_EQ(lines[1].verdict, kImproved);  // it cuts off by itself now
  EXPECT_EQ(lines[2].reason, "after: the run began before the capture");
}

TEST(Compare, ADeeperVacuumIsBetter) {
  Event before, after;
  for (Event* event : {&before, &after}) {
    event->kind = Kind::STALL_CUTOFF;
    event->direction = Direction::VACUUM;
  }
  add_measure(before, "end_pressure", {-30, 0.5}, "kPa");
  add_measure(after, "end_pressure", {-45, 0.5}, "kPa");
  EXPECT_EQ(compare_events({before}, {after}, limits_of({})).at(0).verdict, kImproved);
}

}  // namespace
}  // namespace airlatch
