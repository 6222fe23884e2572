// SPDX-License-Identifier: GPL-3.0-or-later
// However the input is cut into blocks, the same bytes come out.
#include <gtest/gtest.h>

#include <random>

#include "plugin/rehearse/faults.hpp"
#include "tests/support/decode.hpp"
#include "tests/support/score.hpp"

namespace airlatch {
namespace {
using namespace test;

std::string decoded(const Rehearsal& r, std::size_t cut) { return bytes(decode_rehearsal(r, cut)); }

class AnyCut : public testing::TestWithParam<const char*> {};

TEST_P(AnyCut, SameBytesOut) {
  for (const std::int64_t rate_hz : {4, 1000, 10000}) {
    const Rehearsal r =
        rehearse({.fault = GetParam(), .rate_hz = rate_hz, .seed = 41, .hold_s = 6});
    const std::string whole = decoded(r, 1'000'000);
    EXPECT_FALSE(whole.empty());
    EXPECT_EQ(decoded(r, 1), whole) << rate_hz;
    EXPECT_EQ(decoded(r, 7), whole) << rate_hz;
    EXPECT_EQ(decoded(r, 4096), whole) << rate_hz;
  }
}

INSTANTIATE_TEST_SUITE_P(Faults, AnyCut,
                         testing::Values("sound", "contact-intermittent", "motor-seized", "restart",
                                         "bounce", "gap", "clipped", "command-pump"),
                         [](const auto& test) {
                           std::string name = test.param;
                           std::erase(name, '-');
                           return name;
                         });

// Channels of different rates, random cuts, channels taking turns at random.
TEST(AnyCut, RandomCutsOfChannelsWithRatesOfTheirOwn) {
  const Rehearsal fast =
      rehearse({.fault = "line-leak", .rate_hz = 10000, .seed = 42, .hold_s = 6});
  // The pressure comes from a meter at 8 readings a second with times of its own.
  std::vector<ChainChannel> channels;
  for (const auto& entry : fast.rig.channel)
    channels.push_back({.rig = entry, .clock = fast.clock});
  channels[5].clock = {};
  std::vector<std::int64_t> times;
  std::vector<float> pressures;
  for (std::size_t k = 0; k < fast.channels[5].values.size(); k += 1250) {
    times.push_back(fast.clock.time_ns(static_cast<std::int64_t>(k)) +
                    static_cast<std::int64_t>(k % 7) * 1'000'000);
    pressures.push_back(fast.channels[5].values[k]);
  }
  const auto run = [&](std::uint64_t seed, std::size_t most) {
    Chain chain(channels, {.rig = fast.rig, .plan = {}});
    std::vector<Event> events;
    chain.on_event.connect([&](const Event& event) { events.push_back(event); });
    std::mt19937_64 engine(seed);
    std::array<std::size_t, 6> done = {};
    std::size_t open = 6;
    while (open > 0) {
      const std::size_t c = engine() % 6;
      const std::size_t size = c == 5 ? pressures.size() : fast.channels[c].values.size();
      if (done[c] >= size) continue;
      const std::size_t n = std::min<std::size_t>(1 + engine() % most, size - done[c]);
      SampleBlock block{.channel = c, .first = static_cast<std::int64_t>(done[c])};
      if (c == 5) {
        block.times_ns = std::span(times).subspan(done[c], n);
        block.values = std::span(pressures).subspan(done[c], n);
      } else {
        block.clock = fast.clock;
        block.values = std::span(fast.channels[c].values).subspan(done[c], n);
      }
      chain.push(block);
      done[c] += n;
      if (done[c] == size) --open;
    }
    chain.finish();
    return bytes(events);
  };
  const std::string whole = run(0, 10'000'000);
  EXPECT_FALSE(whole.empty());
  for (std::uint64_t seed = 1; seed < 8; ++seed)
    EXPECT_EQ(run(seed, seed < 4 ? 100 : 20000), whole) << seed;
}

}  // namespace
}  // namespace airlatch
