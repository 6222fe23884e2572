// SPDX-License-Identifier: GPL-3.0-or-later
// The quick way, which passes over what the summaries rule out, against the plain one, which looks
// at every sample: the same bytes.
#include <gtest/gtest.h>

#include <limits>

#include "plugin/rehearse/faults.hpp"
#include "plugin/rehearse/random.hpp"
#include "tests/support/decode.hpp"
#include "tests/support/score.hpp"

namespace airlatch {
namespace {
using namespace test;

std::string events_of(const std::vector<ChainChannel>& channels,
                      const std::vector<std::vector<float>>& values, const Rig& rig, bool plain) {
  Chain chain(channels, {.rig = rig, .plan = {}, .look_at_every_sample = plain, .more = {}});
  std::vector<Event> events;
  chain.on_event.connect([&](const Event& event) { events.push_back(event); });
  for (std::size_t k = 0; k < values[0].size(); k += 1000)
    for (std::size_t c = 0; c < values.size(); ++c)
      chain.push({.channel = c,
                  .clock = channels[c].clock,
                  .first = static_cast<std::int64_t>(k),
                  .values = std::span(values[c]).subspan(
                      k, std::min<std::size_t>(1000, values[c].size() - k))});
  chain.finish();
  return bytes(events);
}

TEST(QuickIsPlain, EveryFaultOfTheRehearsals) {
  for (const Fault& fault : faults())
    for (const std::int64_t rate_hz : {20, 2000}) {
      const Rehearsal r =
          rehearse({.fault = fault.name, .rate_hz = rate_hz, .seed = 77, .hold_s = 2});
      std::vector<ChainChannel> channels;
      std::vector<std::vector<float>> values;
      for (std::size_t c = 0; c < r.channels.size(); ++c) {
        channels.push_back({.rig = r.rig.channel[static_cast<int>(c)], .clock = r.clock});
        values.push_back(r.channels[c].values);
      }
      const std::string quick = events_of(channels, values, r.rig, false);
      EXPECT_FALSE(quick.empty());
      EXPECT_EQ(quick, events_of(channels, values, r.rig, true)) << fault.name << " at " << rate_hz;
    }
}

// Random telegraphs, walks and constants with spikes, missing and overloaded samples: thresholds
// are met from all sides, whatever it means.
TEST(QuickIsPlain, RandomSignals) {
  std::size_t seen = 0;
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    Random random(seed);
    const SampleClock clock = SampleClock::of_rate(std::int64_t{10} << random.bits() % 9);
    std::vector<ChainChannel> channels;
    std::vector<std::vector<float>> values;
    for (const Role role : {Role::FEED_A_VOLTAGE, Role::FEED_B_VOLTAGE, Role::MOTOR_CURRENT,
                            Role::LINE_PRESSURE, Role::SUPPLY_VOLTAGE}) {
      ChainChannel channel = channel_of(role, clock);
      if (random.uniform() < 0.5) {
        channel.rig.range_min = -15;
        channel.rig.range_max = 15;
      }
      channels.push_back(channel);
      std::vector<float> signal(static_cast<std::size_t>(6 / clock.period_s()));
      const bool walks = random.uniform() < 0.3;
      const double change = std::pow(10, random.uniform(-4, -1.5)), noise = random.uniform(0, 0.4);
      double level = random.uniform(-3, 12);
      for (float& v : signal) {
        if (random.uniform() < change) level = random.uniform(-12, 16);
        if (walks) level += 0.02 * random.normal();
        v = static_cast<float>(level + noise * random.normal());
        if (random.uniform() < change / 8) v = std::numeric_limits<float>::quiet_NaN();
        if (random.uniform() < change / 8) v = std::numeric_limits<float>::infinity();
        if (random.uniform() < change / 4) v = static_cast<float>(random.uniform(-30, 30));
      }
      values.push_back(std::move(signal));
    }
    const std::string quick = events_of(channels, values, {}, false);
    seen += quick.size();
    ASSERT_EQ(quick, events_of(channels, values, {}, true)) << "seed " << seed;
  }
  EXPECT_GT(seen, 20'000U);
}

}  // namespace
}  // namespace airlatch
