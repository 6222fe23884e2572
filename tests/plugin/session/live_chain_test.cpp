// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/session/live_chain.hpp"

#include <gtest/gtest.h>

#include "plugin/rehearse/rehearsal.hpp"
#include "tests/support/decode.hpp"
#include "tests/support/score.hpp"

namespace airlatch {
namespace {
using namespace test;

const Rehearsal& capture() {
  static const Rehearsal r = rehearse({.fault = "sound", .rate_hz = 500, .seed = 91, .hold_s = 5});
  return r;
}

struct Listener {
  std::vector<Event> events;
  std::vector<std::string> remarks;
  LiveChain chain;
  explicit Listener(const std::vector<std::string>& channels = {}, double patience_s = 2)
      : chain(
            capture().rig, {}, channels, patience_s,
            [this](const Event& event) { events.push_back(event); },
            [this](const std::string& remark) { remarks.push_back(remark); }) {}
  void push(std::size_t c, std::size_t at, std::size_t n, double now_s) {
    const auto& channel = capture().channels[c];
    chain.push(channel.name, capture().clock.time_ns(static_cast<std::int64_t>(at)),
               capture().clock, std::span(channel.values).subspan(at, n), now_s);
  }
};

std::size_t whole() { return capture().channels[0].values.size(); }

// All at once and then nothing: decoding begins when it has been quiet for a while.
TEST(LiveChain, ABurstIsDecodedWhenItIsOver) {
  Listener live;
  for (std::size_t c = 0; c < capture().channels.size(); ++c) live.push(c, 0, whole(), 100);
  EXPECT_TRUE(live.events.empty());
  live.chain.idle(101);
  EXPECT_GT(live.events.size(), 5U);
  live.chain.finish();
  EXPECT_EQ(bytes(live.events), bytes(decode_rehearsal(capture())));
}

// A channel that falls silent holds the others up for as long as patience lasts, and loses nothing.
TEST(LiveChain, ASilentChannelIsNotWaitedForForEver) {
  Listener live({"feed_a_v", "feed_b_v", "motor_a", "line_kpa", "return_v"});
  const std::size_t turn = 500;
  for (std::size_t at = 0; at + turn <= whole(); at += turn)
    for (std::size_t c = 1; c < capture().channels.size(); ++c) {
      const bool silent = capture().channels[c].role == Role::RETURN_VOLTAGE && at > 0;
      if (!silent) live.push(c, at, turn, 1 + static_cast<double>(at) / 500);
    }
  EXPECT_FALSE(of_kind(live.events, Kind::STALL_CUTOFF).empty());
  EXPECT_EQ(live.chain.dropped(), 0);
}

TEST(LiveChain, ALateChannelIsReportedOnce) {
  Listener live({"motor_a"});
  for (int k = 0; k < 3; ++k) live.push(1, static_cast<std::size_t>(k), 1, 1);
  EXPECT_EQ(live.remarks.size(), 6U);  // five rig entries without a channel, a later channel
}

}  // namespace
}  // namespace airlatch
