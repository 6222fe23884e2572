// SPDX-License-Identifier: GPL-3.0-or-later
// What the technician switches, and when.
#include "plugin/rehearse/script_player.hpp"

#include <gtest/gtest.h>

#include <tuple>

namespace airlatch {
namespace {

struct Play {
  Played played;
  std::vector<Movement> movements;
};

Play play_on(const PumpParameters& p, const Script& script) {
  Random random(3);
  MeasuredPump pump(p, SampleClock::of_rate(10), {}, 0, Random(1));
  Play out;
  out.played = play(script, pump, random);
  out.movements = pump.movements();
  return out;
}

std::vector<std::pair<int, bool>> switched(const Played& played) {
  std::vector<std::pair<int, bool>> out;
  for (const FeedChange& change : played.feeds) out.emplace_back(change.contact, change.on);
  return out;
}

Script both() { return {.phases = {{.contact = 0, .rest_s = 4}, {.contact = 1, .rest_s = 4}}}; }

TEST(ScriptPlayer, FeedIsKeptOnAfterTheCutOffAndTheLineLeftAlone) {
  const Play p = play_on({}, both());
  EXPECT_EQ(switched(p.played),
            (std::vector<std::pair<int, bool>>{{0, true}, {0, false}, {1, true}, {1, false}}));
  EXPECT_TRUE(p.played.unanswered.empty());
  ASSERT_EQ(p.movements.size(), 2U);
  EXPECT_FALSE(p.movements[0].by_feed);
  const auto& feeds = p.played.feeds;
  EXPECT_GE(feeds[0].t_s, 0.5);  // the lead and its spread
  EXPECT_LE(feeds[0].t_s, 1.5);
  EXPECT_EQ(p.movements[0].feed_on_s, feeds[0].t_s);
  // Cut off when the current is gone; the coast-down and a step of the technician are 0.1 s at most.
  std::size_t gone = p.movements[0].course.size();
  while (p.movements[0].course[gone - 1].i_a == 0) --gone;
  const double cut_s = p.movements[0].course[gone].t_s;
  EXPECT_NEAR(feeds[1].t_s - cut_s, 1.5, 0.1);
  EXPECT_GE(feeds[2].t_s - cut_s, 4 - 0.1);
  EXPECT_LE(feeds[2].t_s - cut_s, 4.5 + 0.1);
}

TEST(ScriptPlayer, FeedIsTakenFromAPumpThatStillRuns) {
  Script script = both();
  script.phases[0].most_s = 0.4;
  const Play p = play_on({}, script);
  EXPECT_NEAR(p.played.feeds[1].t_s - p.played.feeds[0].t_s, 0.4, 1e-6);
  EXPECT_TRUE(p.movements[0].by_feed);
  EXPECT_FALSE(p.movements[1].by_feed);
}

TEST(ScriptPlayer, WhatDoesNotAnswerIsGivenUp) {
  PumpParameters p;
  p.motor_open = true;
  const Play open = play_on(p, both());
  ASSERT_EQ(open.played.unanswered.size(), 2U);
  EXPECT_EQ(open.played.unanswered[1].contact, 1);
  EXPECT_EQ(open.played.unanswered[1].t_s, open.played.feeds[2].t_s);
  EXPECT_TRUE(open.movements.empty());
  // Held for 2.5 s, of the 6 s allowed.
  EXPECT_NEAR(open.played.feeds[1].t_s - open.played.feeds[0].t_s, 2.5, 0.002);
}

TEST(ScriptPlayer, AFlatBatteryFeedsNothing) {
  PumpParameters p;
  p.u_oc_v = 2;
  EXPECT_TRUE(play_on(p, both()).played.feeds.empty());
  p.motor_open = true;
  EXPECT_TRUE(play_on(p, both()).played.unanswered.empty());
}

TEST(ScriptPlayer, TheLastContactRunIsDead) {
  Script script = both();
  script.phases.pop_back();
  script.dead_contact = 0;
  EXPECT_EQ(play_on({}, script).played.unanswered.size(), 1U);
  script.dead_contact = 1;
  EXPECT_TRUE(play_on({}, script).played.unanswered.empty());
}

// An interruption of the wiring is one of the feed too; one inside the motor is not.
TEST(ScriptPlayer, InterruptionsFallWithinATenthOfWhereTheyAreMeant) {
  Script script = both();
  script.interruptions = {{.phase = 0, .at_s = 0.5, .length_s = 0.1, .brush = false},
                          {.phase = 1, .at_s = 0.5, .length_s = 0.1, .brush = true}};
  const Play p = play_on({}, script);
  ASSERT_EQ(switched(p.played),
            (std::vector<std::pair<int, bool>>{
                {0, true}, {0, false}, {0, true}, {0, false}, {1, true}, {1, false}}));
  const auto& feeds = p.played.feeds;
  EXPECT_NEAR(feeds[1].t_s - feeds[0].t_s, 0.5, 0.051);
  EXPECT_NEAR(feeds[2].t_s - feeds[1].t_s, 0.1, 0.011);
}

TEST(ScriptPlayer, ACommandPumpsLineIsHighForA) {
  Script script = both();
  script.command = true;
  EXPECT_EQ(switched(play_on({}, script).played),
            (std::vector<std::pair<int, bool>>{{0, true}, {0, false}}));
}

TEST(ScriptPlayer, ARotorJamsWhileItRuns) {
  Script script = both();
  script.jam_at_s = 0.3;
  script.phases[0].most_s = 1;
  const Play p = play_on({}, script);
  ASSERT_FALSE(p.movements.empty());
  const double on_s = p.played.feeds[0].t_s;
  double last_turning_s = 0;
  for (const CoursePoint& point : p.movements[0].course)
    if (point.w_rad_s > 0) last_turning_s = point.t_s;
  EXPECT_NEAR(last_turning_s - on_s, 0.3, 0.002);
  EXPECT_TRUE(p.movements[0].by_feed);
}

}  // namespace
}  // namespace airlatch
