// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/gap.hpp"

#include <gtest/gtest.h>

#include <limits>
#include <random>

#include "tests/support/run_waves.hpp"

namespace airlatch {
namespace {
using namespace test;
using End = RunWaves::End;

TEST(Gap, MissingSamplesOfAllChannelsAreOneGap) {
  RunWaves waves(1000);
  waves.rest(5).noise(1);
  Waves all = waves.all();
  for (auto& [role, wave] : all)
    std::fill(wave.values.begin() + 2000, wave.values.begin() + 2750,
              std::numeric_limits<float>::quiet_NaN());
  const auto events = decode(all);
  ASSERT_EQ(events.size(), 1U);
  EXPECT_EQ(events[0].kind, Kind::GAP);
  EXPECT_NEAR(events[0].time_s, 2, 1e-9);
  EXPECT_NEAR(measure(events[0], "duration"), 0.75, 1e-9);
}

TEST(Gap, OneMissingReadingOfASlowMeter) {
  Wave line(4);
  line.hold(0, 5).noise(0.05, 2);
  line.values[8] = std::numeric_limits<float>::quiet_NaN();
  const auto events = decode({{Role::LINE_PRESSURE, line}});
  ASSERT_EQ(events.size(), 1U);
  EXPECT_NEAR(events[0].time_s, 2, 1e-9);
  EXPECT_NEAR(measure(events[0], "duration"), 0.25, 1e-9);
}

TEST(Gap, MissingToTheEnd) {
  Wave line(1000);
  line.hold(0, 3);
  std::fill(line.values.begin() + 2500, line.values.end(), std::numeric_limits<float>::quiet_NaN());
  const auto events = decode({{Role::LINE_PRESSURE, line}});
  ASSERT_EQ(events.size(), 1U);
  EXPECT_NEAR(events[0].time_s, 2.5, 1e-9);
}

// Six channels take turns, each row one channel's, with jitter: no channel is ever missing, but the
// one that stays silent for longer than three of its intervals.
TEST(Gap, RowsThatBelongToOtherChannels) {
  const Role roles[] = {Role::SUPPLY_VOLTAGE, Role::FEED_A_VOLTAGE, Role::LINE_PRESSURE};
  std::vector<ChainChannel> channels;
  for (const Role role : roles) channels.push_back(channel_of(role, {}));
  Chain chain(channels, {});
  std::vector<Event> events;
  chain.on_event.connect([&](const Event& event) { events.push_back(event); });
  std::mt19937_64 engine(4);
  std::uniform_int_distribution<std::int64_t> jitter_ns(0, 40'000'000);
  for (std::int64_t row = 0; row < 600; ++row) {
    const std::int64_t t_ns = row * 66'000'000 + jitter_ns(engine);
    const std::size_t turn = static_cast<std::size_t>(row % 3);
    for (std::size_t c = 0; c < 3; ++c) {
      const bool silent = c == 2 && row > 300 && row < 330;
      const float value = c == turn && !silent ? 1.0F : std::numeric_limits<float>::quiet_NaN();
      chain.push({.channel = c, .times_ns = {&t_ns, 1}, .values = {&value, 1}});
    }
  }
  chain.finish();
  ASSERT_EQ(events.size(), 1U);
  EXPECT_EQ(events[0].kind, Kind::GAP);
  EXPECT_NEAR(events[0].time_s, 299 * 0.066 + 0.2, 0.1);
  EXPECT_NEAR(measure(events[0], "duration"), 31 * 0.066, 0.25);
}

TEST(Gap, TheSameOnAnEvenClock) {
  Waves waves = {{Role::SUPPLY_VOLTAGE, Wave(30)}, {Role::LINE_PRESSURE, Wave(30)}};
  for (std::size_t c = 0; c < waves.size(); ++c) {
    waves[c].second.hold(1, 20);
    for (std::size_t k = 0; k < waves[c].second.values.size(); ++k)
      if (k % 6 != c) waves[c].second.values[k] = std::numeric_limits<float>::quiet_NaN();
  }
  EXPECT_TRUE(of_kind(decode(waves), Kind::GAP).empty());
}

}  // namespace
}  // namespace airlatch
