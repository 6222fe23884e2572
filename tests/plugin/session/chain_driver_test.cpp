// SPDX-License-Identifier: GPL-3.0-or-later
// One rehearsed capture, handed over as files, live hosts and the C interface do: the same events.
#include "plugin/session/chain_driver.hpp"

#include <gtest/gtest.h>

#include "plugin/rehearse/rehearsal.hpp"
#include "tests/support/decode.hpp"
#include "tests/support/score.hpp"

namespace airlatch {
namespace {
using namespace test;

const Rehearsal& capture() {
  static const Rehearsal r = rehearse({.fault = "sound", .rate_hz = 500, .seed = 17, .hold_s = 5});
  return r;
}

// A channel without a role stands first, so that source and chain count differently.
RigMatch match() {
  std::vector<SourceChannel> channels(1);
  channels[0].name = "of no use";
  for (const auto& channel : capture().channels) {
    channels.emplace_back().name = channel.name;
    channels.back().clock = capture().clock;
  }
  return match_rig(channels, capture().rig, "drawn");
}

std::size_t whole() { return capture().channels[0].values.size(); }

// In turns of `turn` samples; each block on a clock of its own that begins `late_ns` late.
std::vector<Event> driven(std::size_t turn, std::int64_t late_ns, std::int64_t joins_ns,
                          std::int64_t* dropped = nullptr) {
  std::vector<Event> events;
  ChainDriver driver(
      match(), capture().channels.size() + 1, {.rig = capture().rig},
      [&](const Event& event) { events.push_back(event); }, joins_ns);
  for (std::size_t at = 0; at < whole(); at += turn)
    for (std::size_t c = 0; c < capture().channels.size(); ++c) {
      SampleBlock block{.channel = c + 1, .clock = capture().clock};
      block.values =
          std::span(capture().channels[c].values).subspan(at).first(std::min(turn, whole() - at));
      block.clock.start_ns =
          capture().clock.time_ns(static_cast<std::int64_t>(at)) + (at > 0 ? late_ns : 0);
      driver.push(block);
    }
  driver.finish();
  if (dropped) *dropped = driver.dropped();
  return events;
}

TEST(ChainDriver, BlocksThatGoOnAreOneClock) {
  const std::string right = bytes(decode_rehearsal(capture()));
  for (const std::size_t turn : {std::size_t{7}, std::size_t{1000}, whole()})
    EXPECT_EQ(bytes(driven(turn, 0, 0)), right) << turn;
}

// A live host's stamps are rounded: a nanosecond is no jump where the host says so, else it is one.
TEST(ChainDriver, RoundedStampsJoinWhereTheHostRounds) {
  const std::string right = bytes(decode_rehearsal(capture()));
  EXPECT_EQ(bytes(driven(500, 1, 1)), right);
  EXPECT_NE(bytes(driven(500, 1'000'000, 1)), right);
}

TEST(ChainDriver, CountsWhatItWasGiven) {
  ChainDriver driver(match(), capture().channels.size() + 1, {.rig = capture().rig},
                     [](const Event&) {});
  EXPECT_FALSE(driver.place(0));
  ASSERT_TRUE(driver.place(1));
  EXPECT_FALSE(driver.first_ns());
  EXPECT_EQ(driver.duration_s(), 0);
  const std::vector<float> values(11, 0.F);
  const SampleClock clock = SampleClock::of_rate(10, 1, 3'000'000'000);
  driver.push({.channel = 0, .clock = SampleClock::of_rate(1), .values = values});  // no role
  EXPECT_FALSE(driver.first_ns());
  driver.push({.channel = 1, .clock = clock, .values = values});
  EXPECT_EQ(driver.first_ns(), 3'000'000'000);
  EXPECT_DOUBLE_EQ(driver.duration_s(), 1);
  EXPECT_EQ(driver.channel(0).samples, 11);
  EXPECT_EQ(driver.channel(1).samples, 11);
  EXPECT_DOUBLE_EQ(driver.channel(1).rate_hz, 10);
  EXPECT_EQ(driver.channel(1).newest_ns, 4'000'000'000);
  driver.push({.channel = 1, .clock = clock, .values = values});  // the same once more
  driver.finish();
  EXPECT_EQ(driver.dropped(), 11);
}

}  // namespace
}  // namespace airlatch
