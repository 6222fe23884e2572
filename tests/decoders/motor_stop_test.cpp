// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/motor_stop.hpp"

#include <gtest/gtest.h>

#include "tests/support/run_waves.hpp"

namespace airlatch {
namespace {
using namespace test;
using End = RunWaves::End;

std::vector<Event> stops(const std::vector<Event>& events) {
  auto out = of_kind(events, Kind::STALL_CUTOFF);
  for (const auto& event : of_kind(events, Kind::MOTOR_STOP)) out.push_back(event);
  return out;
}

TEST(MotorStop, CutOffWhileTheFeedStays) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 3, 40, End::kCutOff, 4).rest(5).noise(1);
  const auto all = stops(decode(waves.all()));
  ASSERT_EQ(all.size(), 1U);
  const Event& stop = all[0];
  EXPECT_EQ(stop.kind, Kind::STALL_CUTOFF);
  EXPECT_NEAR(stop.time_s, 3 + RunWaves::kStopLate_s, 10e-6);
  EXPECT_EQ(stop.direction, Direction::PRESSURE);
  EXPECT_NEAR(measure(stop, "run_time"), 2 + RunWaves::kStopLate_s - RunWaves::kStartLate_s, 2e-5);
  EXPECT_NEAR(measure(stop, "run_current"), RunWaves::kRun_a, 0.01);
  EXPECT_NEAR(measure(stop, "end_current"), RunWaves::kRun_a, 0.02);
  EXPECT_NEAR(measure(stop, "end_pressure"), 40, 0.1);
  EXPECT_NEAR(measure(stop, "rise_rate"), 20, 0.2);  // 40 kPa in 2 s, straight
  EXPECT_NEAR(measure(stop, "feed_path_resistance"), RunWaves::kFeedPath_ohm, 0.002);
  // 3 A and (12 - 0.45) V for 1.94 s, and the inrush's triangle: by hand, ohmic losses counted.
  EXPECT_NEAR(measure(stop, "energy"), 71.0, 0.7);
}

TEST(MotorStop, FeedTakenAway) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 3, 20, End::kFeedOff).rest(5).noise(2);
  const auto all = stops(decode(waves.all()));
  ASSERT_EQ(all.size(), 1U);
  EXPECT_EQ(all[0].kind, Kind::MOTOR_STOP);
  EXPECT_NEAR(all[0].time_s, 3 + RunWaves::kStopLate_s, 10e-6);
}

TEST(MotorStop, FeedTakenAwayAfterTheCutOffIsACutOff) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 3, 40, End::kCutOff, 3.06).rest(5).noise(3);
  const auto all = stops(decode(waves.all()));
  ASSERT_EQ(all.size(), 1U);
  EXPECT_EQ(all[0].kind, Kind::STALL_CUTOFF);
}

TEST(MotorStop, WithoutAFeedTheCauseIsNotKnown) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 3, 40, End::kCutOff, 4).rest(5).noise(4);
  const auto all =
      stops(decode({{Role::MOTOR_CURRENT, waves.motor}, {Role::LINE_PRESSURE, waves.line}}));
  ASSERT_EQ(all.size(), 1U);
  EXPECT_EQ(all[0].kind, Kind::MOTOR_STOP);
  EXPECT_NE(all[0].note.find("cannot be told"), std::string::npos);
  EXPECT_EQ(find_measure(all[0], "feed_path_resistance"), nullptr);
  EXPECT_EQ(find_measure(all[0], "energy"), nullptr);
}

TEST(MotorStop, ARunThatBeganBeforeTheCaptureHasNoRunTime) {
  RunWaves waves(10000);
  waves.run(Contact::A, 3, 40, End::kCutOff, 4).rest(5).noise(5);
  Waves late = waves.all();
  for (auto& [role, wave] : late)
    wave.values.erase(wave.values.begin(), wave.values.begin() + 5000);
  const auto all = stops(decode(late));
  ASSERT_EQ(all.size(), 1U);
  EXPECT_EQ(find_measure(all[0], "run_time"), nullptr);
  EXPECT_EQ(missing(all[0], "run_time"), MissingCode::CUT_SHORT);
  EXPECT_NEAR(all[0].time_s, 2.5 + RunWaves::kStopLate_s, 1e-5);
}

}  // namespace
}  // namespace airlatch
