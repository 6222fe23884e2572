// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/verdict/compare.hpp"

#include <gtest/gtest.h>

#include <cstdio>

#include "decoders/context.hpp"
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
    for (const Report::Change& line : compare_events(events(options), events(again))) {
      if (line.measure.empty() || line.verdict == kNotComparable) continue;
      ++all;
      same += line.verdict == kNoRealChange;
    }
  }
  std::printf("no real change in %d of %d\n", same, all);
  EXPECT_GE(all, 300);
  EXPECT_GE(same, 0.94 * all);
}

// A leak that is 10 % smaller after the repair.
TEST(Compare, ATenthLessLeakIsImproved) {
  int right = 0, all = 0;
  for (std::uint64_t seed = 910'000; seed < 910'015; ++seed) {
    const auto before =
        events({.fault = "sound", .rate_hz = 1000, .seed = seed, .hold_s = 15, .leak_tau_s = 60});
    const auto after = events({.fault = "sound",
                               .rate_hz = 1000,
                               .seed = seed,
                               .noise_seed = seed + 7,
                               .hold_s = 15,
                               .leak_tau_s = 66.7});
    for (const Report::Change& line : compare_events(before, after))
      if (line.measure == "time_constant" || line.measure == "decay_rate") {
        ++all;
        right += line.verdict == kImproved;
      }
  }
  std::printf("improved in %d of %d\n", right, all);
  EXPECT_GE(all, 50);
  EXPECT_GE(right, 0.95 * all);
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
  const auto lines = compare_events({stop}, {cut, decay});
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
  EXPECT_EQ(compare_events({before}, {after}).at(0).verdict, kImproved);
}

}  // namespace
}  // namespace airlatch
