// SPDX-License-Identifier: GPL-3.0-or-later
// Truth of drawn runs. The current: from nothing to 10 A and down to 4 A, a millisecond each, then
// 4 A until it falls to nothing within a millisecond. So a start drawn at t is crossed (1 A) at
// t + 0.1 ms, a fall drawn at t (2 A) at t + 0.5 ms.
#include "plugin/rehearse/run_truth.hpp"

#include <gtest/gtest.h>

#include <numbers>

#include "tests/support/decode.hpp"

namespace airlatch {
namespace {
using namespace test;

constexpr double kPoint_s = 1e-4, kRamp_s = 1e-3;

struct Piece {  // the current goes straight to `to_a` within kRamp_s, and stays until `until_s`
  double to_a, until_s;
  double w_rad_s = 300;
};

// The line rises by `rise_kpa_s`; 12 V at the source, 11 V at the contact and 1 V at the return
// while current flows.
Movement drawn(double from_s, const std::vector<Piece>& pieces, double rise_kpa_s = 20) {
  Movement out;
  double a = 0, begin_s = from_s;
  int k = 0;
  for (const Piece& piece : pieces) {
    for (;; ++k) {
      const double t_s = from_s + k * kPoint_s;
      if (t_s > piece.until_s - kPoint_s / 2) break;
      const double part = std::min(1.0, (t_s - begin_s) / kRamp_s);
      const double i_a = a + part * (piece.to_a - a);
      out.course.push_back({.t_s = t_s,
                            .i_a = i_a,
                            .supply_v = 12 - 0.1 * i_a,
                            .feed_v = 11,
                            .return_v = 1,
                            .line_kpa = rise_kpa_s * (t_s - from_s),
                            .w_rad_s = piece.w_rad_s});
    }
    a = piece.to_a;
    begin_s = piece.until_s;
  }
  out.feed_on_s = from_s;
  return out;
}

Movement plain_run(double from_s, double length_s, double rise_kpa_s = 20) {
  return drawn(from_s,
               {{10, from_s + kRamp_s}, {4, from_s + length_s}, {0, from_s + length_s + 0.01}},
               rise_kpa_s);
}

std::vector<Event> truth(const std::vector<Movement>& movements) {
  return truth_of_runs(movements, PumpParameters{}, false);
}

Event only(const std::vector<Event>& events, Kind kind) {
  const auto found = of_kind(events, kind);
  EXPECT_EQ(found.size(), 1U) << name_of(kind);
  return found.empty() ? Event() : found[0];
}

TEST(RunTruth, StartIsAtATenthOfTheInrush) {
  const Event start = only(truth({plain_run(1, 2)}), Kind::MOTOR_START);
  EXPECT_NEAR(start.time_s, 1.0001, 1e-9);
  EXPECT_NEAR(measure(start, "inrush_peak"), 10, 1e-9);
  EXPECT_NEAR(measure(start, "feed_to_start"), 0.0001, 1e-9);
  EXPECT_NEAR(measure(start, "supply_sag"), 1, 1e-9);
  EXPECT_EQ(start.contact, Contact::A);
}

TEST(RunTruth, StopIsAtHalfTheRunningLevel) {
  const Event stop = only(truth({plain_run(1, 2)}), Kind::STALL_CUTOFF);
  EXPECT_NEAR(stop.time_s, 3.0005, 1e-9);
  EXPECT_NEAR(measure(stop, "run_time"), 2.0004, 1e-9);
  EXPECT_NEAR(measure(stop, "run_current"), 4, 0.002);  // the fall's first half is in the mean
  EXPECT_NEAR(measure(stop, "end_current"), 4, 1e-9);   // it ends before the fall
  EXPECT_NEAR(measure(stop, "end_pressure"), 40.01, 1e-9);
  EXPECT_NEAR(measure(stop, "rise_rate"), 20, 1e-6);
  // 10 V times 12 mC in the two ramps, 7992 mC at 4 A and 1.5 mC in the fall's first half.
  EXPECT_NEAR(measure(stop, "energy"), 80.055, 0.001);
  EXPECT_NEAR(measure(stop, "shaft_speed"), 300 * 60 / (2 * std::numbers::pi), 1e-9);
}

TEST(RunTruth, RiseRateHasNoSign) {
  Movement suck = plain_run(1, 2, -15);
  suck.contact = 1;
  const Event stop = only(truth({suck}), Kind::STALL_CUTOFF);
  EXPECT_NEAR(measure(stop, "rise_rate"), 15, 1e-6);
  EXPECT_EQ(stop.direction, Direction::VACUUM);
}

TEST(RunTruth, ResistancesAreTheSystems) {
  PumpParameters p;
  p.r_feed_ohm = {0.3, 0.4};
  Movement run = plain_run(1, 2);
  run.contact = 1;
  const Event stop = only(truth_of_runs({run}, p, false), Kind::STALL_CUTOFF);
  EXPECT_EQ(measure(stop, "feed_path_resistance"), 0.4);
  EXPECT_EQ(measure(stop, "return_path_resistance"), 0.020);
  EXPECT_NEAR(measure(stop, "mechanical_time_constant"), 6e-6 * 0.9 / (0.02 * 0.02), 1e-12);
  // A command pump has no contacts.
  const Event command = only(truth_of_runs({run}, p, true), Kind::STALL_CUTOFF);
  EXPECT_EQ(command.contact, Contact::NONE);
  EXPECT_EQ(find_measure(command, "feed_path_resistance"), nullptr);
}

TEST(RunTruth, TheFeedMayHaveEndedIt) {
  Movement run = plain_run(1, 2);
  run.by_feed = true;
  EXPECT_NEAR(only(truth({run}), Kind::MOTOR_STOP).time_s, 3.0005, 1e-9);
}

// Back through 2 A at half of the 1 ms ramp, as the fall.
TEST(RunTruth, ShortFallsAreDropouts) {
  const auto events =
      truth({drawn(1, {{10, 1.001}, {4, 2}, {0, 2.1}, {4, 2.5}, {0, 2.95}, {4, 4}, {0, 4.01}})});
  const auto dropouts = of_kind(events, Kind::DROPOUT);
  ASSERT_EQ(dropouts.size(), 2U);
  EXPECT_NEAR(dropouts[0].time_s, 2.0005, 1e-9);
  EXPECT_NEAR(measure(dropouts[0], "duration"), 0.1, 1e-9);
  EXPECT_NEAR(measure(dropouts[1], "duration"), 0.45, 1e-9);
  EXPECT_NEAR(only(events, Kind::STALL_CUTOFF).time_s, 4.0005, 1e-9);
}

TEST(RunTruth, LongFallsAreStops) {
  const auto events = truth({drawn(1, {{10, 1.001}, {4, 2}, {0, 2.51}, {4, 4}, {0, 4.01}})});
  EXPECT_TRUE(of_kind(events, Kind::DROPOUT).empty());
  EXPECT_NEAR(only(events, Kind::STALL_CUTOFF).time_s, 2.0005, 1e-9);
}

TEST(RunTruth, ReversalHasTheRestBefore) {
  Movement back = plain_run(8, 2);
  back.contact = 1;
  const Event reversal = only(truth({plain_run(1, 2), back}), Kind::DIRECTION_REVERSAL);
  EXPECT_NEAR(reversal.time_s, 8.0001, 1e-9);
  EXPECT_NEAR(measure(reversal, "rest_time"), 4.9996, 1e-9);
  EXPECT_TRUE(of_kind(truth({plain_run(1, 2), plain_run(8, 2)}), Kind::DIRECTION_REVERSAL).empty());
}

TEST(RunTruth, RestartHasTheHoldBefore) {
  Movement again = plain_run(8, 2);
  again.restarted = true;
  const auto events = truth({plain_run(1, 2), again});
  EXPECT_NEAR(measure(only(events, Kind::RESTART), "hold_time"), 4.9996, 1e-9);
  EXPECT_EQ(find_measure(of_kind(events, Kind::MOTOR_START)[1], "feed_to_start"), nullptr);
}

TEST(RunTruth, RunOnIsFifteenSecondsAfterTheStart) {
  EXPECT_TRUE(of_kind(truth({plain_run(1, 14.9)}), Kind::RUN_ON).empty());
  const Event run_on = only(truth({plain_run(1, 15.1, 2)}), Kind::RUN_ON);
  EXPECT_NEAR(run_on.time_s, 16.0001, 1e-9);
  EXPECT_NEAR(measure(run_on, "pressure"), 30.0002, 2 * kPoint_s);
}

TEST(RunTruth, RotorLockedFromTheStart) {
  const Event locked =
      only(truth({drawn(1, {{10, 1.001, 0}, {9, 2, 0}, {0, 2.01, 0}})}), Kind::LOCKED_ROTOR);
  EXPECT_NEAR(locked.time_s, 1.0001, 1e-9);  // as the start
  EXPECT_NEAR(measure(locked, "stall_current"), 9, 1e-9);
}

// It stands from 2 s on; the current goes from 4 A to 9 A in a millisecond: half way at 2.0005 s.
TEST(RunTruth, RotorLockedInTheRun) {
  const std::vector<Piece> pieces = {{10, 1.001}, {4, 2}, {9, 3, 0}, {0, 3.01, 0}};
  const Event locked = only(truth({drawn(1, pieces)}), Kind::LOCKED_ROTOR);
  EXPECT_NEAR(locked.time_s, 2.0005, 1e-9);
  EXPECT_NEAR(measure(locked, "stall_current"), 9, 1e-9);
  // Not for less than 0.3 s.
  const std::vector<Piece> soon = {{10, 1.001}, {4, 2}, {9, 2.29, 0}, {0, 2.31, 0}};
  EXPECT_TRUE(of_kind(truth({drawn(1, soon)}), Kind::LOCKED_ROTOR).empty());
}

// Twice 0.2 s at a stand, with a turn between: neither is long enough.
TEST(RunTruth, ARotorThatTurnsAgainIsNotLocked) {
  const auto events = truth(
      {drawn(1, {{10, 1.001}, {4, 2}, {9, 2.2, 0}, {4, 2.25}, {9, 2.45, 0}, {4, 3}, {0, 3.01}})});
  EXPECT_TRUE(of_kind(events, Kind::LOCKED_ROTOR).empty());
}

TEST(RunTruth, NothingOfATwitchAndNoStopWhereTheCaptureEnds) {
  EXPECT_TRUE(truth({drawn(1, {{0.25, 1.5}, {0, 1.6}})}).empty());
  const auto cut_short = truth({drawn(1, {{10, 1.001}, {4, 2}})});
  ASSERT_EQ(cut_short.size(), 1U);
  EXPECT_EQ(cut_short[0].kind, Kind::MOTOR_START);
}

}  // namespace
}  // namespace airlatch
