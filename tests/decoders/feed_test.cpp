// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/feed.hpp"

#include <gtest/gtest.h>

#include "decoders/stream/slicer.hpp"
#include "tests/support/run_waves.hpp"

namespace airlatch {
namespace {
using namespace test;
using End = RunWaves::End;

TEST(Feed, OnAndOffAtTheHalfLevel) {
  Wave feed(10000);
  // 12 V within 1 ms, half of it after 0.5 ms; the same on the way down.
  feed.hold(0, 1).line(12, 1.001).hold(12, 3).line(0, 3.001).hold(0, 4).noise(0.006, 1);
  const auto events = decode({{Role::FEED_B_VOLTAGE, feed}});
  ASSERT_EQ(events.size(), 2U);
  EXPECT_EQ(events[0].kind, Kind::FEED_ON);
  EXPECT_EQ(events[0].contact, Contact::B);
  EXPECT_NEAR(events[0].time_s, 1.0005, 10e-6);
  EXPECT_NEAR(measure(events[0], "level"), 12, 0.01);
  EXPECT_EQ(events[1].kind, Kind::FEED_OFF);
  EXPECT_NEAR(events[1].time_s, 3.0005, 10e-6);
  EXPECT_NEAR(measure(events[1], "level"), 0, 0.01);  // after the edge
}

TEST(Feed, InterferenceIsNoFeed) {
  Wave feed(10000);
  feed.hold(0, 1).hold(14, 1.0008).hold(0, 2).hold(12, 3).hold(0, 3.001).hold(12, 4);
  feed.noise(0.01, 2);
  const auto events = decode({{Role::FEED_A_VOLTAGE, feed}});
  ASSERT_EQ(events.size(), 1U);
  EXPECT_NEAR(events[0].time_s, 2, 1e-4);
}

TEST(Feed, BounceIsOneFeed) {
  Wave feed(10000);
  feed.hold(0, 1).hold(12, 1.002).hold(0, 1.003).hold(12, 1.006).hold(0, 1.0065).hold(12, 3);
  feed.noise(0.006, 3);
  const auto events = decode({{Role::FEED_A_VOLTAGE, feed}});
  ASSERT_EQ(events.size(), 1U);
  EXPECT_NEAR(events[0].time_s, 1, 1e-4);  // the first touch
}

// A released contact is held up by the coasting motor: off is when the source left, not when the
// voltage has come down to half.
TEST(Feed, CoastingMotorHoldsTheContactUp) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 3, 20, End::kNever);
  waves.motor.line(0, 3.001).hold(0, 5);
  waves.feed_a.hold(9, 3.0005).line(0, 3.4).hold(0, 5);  // 9 V of back-EMF, dying
  waves.feed_b.hold(0, 5);
  waves.supply.hold(12, 5);
  waves.line.hold(20, 5);
  waves.noise(4);
  const auto off = of_kind(decode(waves.all()), Kind::FEED_OFF);
  ASSERT_EQ(off.size(), 1U);
  EXPECT_NEAR(off[0].time_s, 3, 2e-4);
}

// A motor under load comes to rest within tens of milliseconds: wherever that lies in the slicer's
// grid, the source left first and the stop is no cut-off.
TEST(Feed, ShortCoastAnywhereInASlice) {
  constexpr auto kGrid_ms = static_cast<int>(Slicer::kSlice_ns / 1'000'000);
  for (int ms = 0; ms < kGrid_ms; ++ms) {
    const double off_s = 3 + 0.001 * ms;
    SCOPED_TRACE(off_s);
    RunWaves waves(10000);
    waves.rest(1).run(Contact::A, off_s, 20, End::kNever);
    waves.motor.line(0, off_s + 0.001).hold(0, 4);
    waves.feed_a.hold(7.7, off_s + 0.0005).line(0, off_s + 0.027).hold(0, 4);
    waves.feed_b.hold(0, 4);
    waves.supply.hold(12, 4);
    waves.line.hold(20, 4);
    waves.noise(4);
    const auto events = decode(waves.all());
    const auto off = of_kind(events, Kind::FEED_OFF);
    ASSERT_EQ(off.size(), 1U);
    EXPECT_NEAR(off[0].time_s, off_s, 2e-4);
    EXPECT_EQ(of_kind(events, Kind::MOTOR_STOP).size(), 1U);
    EXPECT_TRUE(of_kind(events, Kind::STALL_CUTOFF).empty());
  }
}

TEST(Feed, SlowMeterKnowsItToAReading) {
  Wave feed(4);
  feed.hold(0, 2.1).hold(12, 6.1).hold(0, 9);
  const auto events = decode({{Role::FEED_A_VOLTAGE, feed}});
  ASSERT_EQ(events.size(), 2U);
  EXPECT_NEAR(events[0].time_s, 2.125, 1e-9);  // between the readings at 2.00 and 2.25 s
  EXPECT_NEAR(events[0].time_u_s, 0.25 / std::sqrt(12), 1e-6);
}

TEST(Feed, AFlatBatteryIsNoSource) {
  Wave feed(1000);
  feed.hold(0, 1).hold(1.9, 4).hold(0, 5).noise(0.006, 5);
  EXPECT_TRUE(decode({{Role::FEED_A_VOLTAGE, feed}}).empty());
}

TEST(Feed, FedWhenTheCaptureBegins) {
  Wave feed(1000);
  feed.hold(12, 3).hold(0, 5).noise(0.006, 6);
  const auto events = decode({{Role::FEED_A_VOLTAGE, feed}});
  ASSERT_EQ(events.size(), 1U);  // nobody saw it come on
  EXPECT_EQ(events[0].kind, Kind::FEED_OFF);
}

// A contact that flickers at a third of the source starts nothing and is no feed; neither is the part
// of an edge that a slow meter's reading has caught.
TEST(Feed, AFlickerBelowHalfTheSourceIsNoFeed) {
  for (const double level_v : {3.9, 4.4, 5.5})
    for (const double long_s : {0.02, 0.12, 2.0}) {
      Wave feed(1000), supply(1000);
      supply.hold(12.6, 8).noise(0.01, 2);
      feed.hold(0, 1).hold(level_v, 1 + long_s).hold(0, 4).hold(12.6, 6).hold(0, 8).noise(0.01, 3);
      const auto events = decode({{Role::SUPPLY_VOLTAGE, supply}, {Role::FEED_A_VOLTAGE, feed}});
      ASSERT_EQ(events.size(), 2U) << level_v << ' ' << long_s;
      EXPECT_NEAR(events[0].time_s, 4, 2e-3);
    }
}

TEST(Feed, AHalfCaughtReadingIsNoLevel) {
  Wave feed(4);
  feed.hold(0, 2.1).hold(3.9, 2.3).hold(12.2, 6.1).hold(4.1, 6.3).hold(0, 9);
  const auto events = decode({{Role::FEED_A_VOLTAGE, feed}});
  ASSERT_EQ(events.size(), 2U);
  EXPECT_NEAR(measure(events[0], "level"), 12.2, 0.1);
  EXPECT_NEAR(events[0].time_s, 2.125, 1e-9);  // the reading at 2.25 s shows a part of the edge
  EXPECT_NEAR(events[1].time_s, 6.125, 1e-9);
}

// The rig says how long the meter averages: a part of a step tells when it was.
TEST(Feed, AKnownAverageTellsTheInstant) {
  Wave feed(4);
  feed.hold(0, 2.1).hold(3.0, 2.3).hold(12, 6);
  ChainSettings settings;
  ChainChannel channel = channel_of(Role::FEED_A_VOLTAGE, feed.clock);
  channel.rig.average_s = 0.2;
  const auto events = decode({{Role::FEED_A_VOLTAGE, feed}}, 4096, settings, {channel});
  ASSERT_EQ(events.size(), 1U);
  EXPECT_NEAR(events[0].time_s, 2.25 - 0.25 * 0.2, 1e-6);
  EXPECT_LT(events[0].time_u_s, 0.02);
}

// The pump cuts off, and some milliseconds later the contact is let go: two things.
TEST(Feed, ReleasedSoonAfterACutOff) {
  for (const std::int64_t rate_hz : {1000, 5000, 20000})
    for (const double later_s : {0.006, 0.009, 0.014, 0.022}) {
      RunWaves waves(rate_hz);
      waves.rest(1).run(Contact::A, 3, 20, End::kCutOff, 3 + later_s).rest(6).noise(5);
      const auto events = decode(waves.all());
      EXPECT_EQ(of_kind(events, Kind::STALL_CUTOFF).size(), 1U) << rate_hz << ' ' << later_s;
      EXPECT_EQ(of_kind(events, Kind::FEED_ON).size(), 1U) << rate_hz << ' ' << later_s;
      const auto off = of_kind(events, Kind::FEED_OFF);
      ASSERT_EQ(off.size(), 1U) << rate_hz << ' ' << later_s;
      EXPECT_NEAR(off[0].time_s, 3 + later_s, 1.1 / static_cast<double>(rate_hz));
    }
}

}  // namespace
}  // namespace airlatch
