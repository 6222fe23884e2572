// SPDX-License-Identifier: GPL-3.0-or-later
// Times and periods at the ends of their numbers, through every door of the chain: each sample is
// counted as used or dropped, every event has a finite time, and what comes later is still decoded.
#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <random>

#include "plugin/session/live_chain.hpp"
#include "tests/support/decode.hpp"

namespace airlatch {
namespace {
using namespace test;

constexpr std::int64_t kMin = std::numeric_limits<std::int64_t>::min(),
                       kMax = std::numeric_limits<std::int64_t>::max();

class Draw {
 public:
  explicit Draw(std::uint64_t seed) : engine_(seed) {}
  std::size_t below(std::size_t n) { return engine_() % n; }
  std::int64_t number() {
    static constexpr std::int64_t kEnds[] = {0,         1,          kLatest_ns,
                                             kMax,      kMax / 2,   1'000'000'000,
                                             1'000'000, 40'000'000, 1'000'000'000'000'000};
    const std::int64_t at = kEnds[below(std::size(kEnds))];
    const auto near = static_cast<std::int64_t>(below(3)) - 1;
    if (at == kMax)
      return below(2) ? kMax - static_cast<std::int64_t>(below(50'000'000)) : kMin + near + 1;
    return (below(2) ? at : -at) + near;
  }
  std::vector<float> values() {
    std::vector<float> out(1 + below(300));
    float now = 0;
    for (float& v : out) {
      if (below(20) == 0) now = static_cast<float>(below(3)) * 5;
      v = below(50) == 0 ? std::nanf("") : now;
    }
    return out;
  }

 private:
  std::mt19937_64 engine_;
};

const Role kDrawn[] = {Role::MOTOR_CURRENT, Role::FEED_A_VOLTAGE, Role::LINE_PRESSURE};

std::vector<ChainChannel> channels() {
  std::vector<ChainChannel> out;
  for (const Role role : kDrawn) out.push_back(channel_of(role, {}));
  return out;
}

struct Block {
  SampleBlock about;
  std::vector<std::int64_t> times_ns;
  std::vector<float> values;
  [[nodiscard]] SampleBlock block() const {
    SampleBlock out = about;
    out.times_ns = times_ns;
    out.values = values;
    return out;
  }
};

Block drawn(Draw& draw) {
  Block out{.about = {.channel = draw.below(3)}, .times_ns = {}, .values = draw.values()};
  if (draw.below(2)) {
    for (std::size_t k = 0; k < out.values.size(); ++k)
      out.times_ns.push_back(draw.below(4) ? (k ? since_ns(out.times_ns.back(), -1'000'000) : 0)
                                           : draw.number());
    return out;
  }
  out.about.clock = {draw.number(), draw.number(), draw.number()};
  out.about.first = draw.number();
  return out;
}

void expect_sane(const std::vector<Event>& events, std::uint64_t seed) {
  for (const Event& event : events) {
    EXPECT_TRUE(std::isfinite(event.time_s) && std::isfinite(event.time_u_s)) << seed;
    EXPECT_LE(std::abs(event.time_s), 8.1e9) << seed;
    for (const Measure& m : event.measures)
      EXPECT_TRUE(std::isfinite(m.value) && std::isfinite(m.u)) << seed << m.name;
  }
}

TEST(FarTimes, ThroughTheChain) {
  for (std::uint64_t seed = 0; seed < 400; ++seed) {
    Draw draw(seed);
    std::vector<Event> events;
    Chain chain(channels(), {});
    chain.on_event.connect([&](const Event& event) { events.push_back(event); });
    for (int k = 0; k < 20; ++k) {
      const Block block = drawn(draw);
      chain.push(block.block());
      if (draw.below(10) == 0) chain.advance(draw.number());
    }
    chain.finish();
    expect_sane(events, seed);
  }
}

TEST(FarTimes, ThroughTheDriver) {
  for (std::uint64_t seed = 0; seed < 400; ++seed) {
    Draw draw(seed);
    std::vector<Event> events;
    const RigMatch match{.channels = channels(), .source_channel = {0, 1, 2}, .remarks = {}};
    ChainDriver driver(match, 3, {}, [&](const Event& event) { events.push_back(event); });
    for (int k = 0; k < 20; ++k) driver.push(drawn(draw).block());
    driver.finish();
    expect_sane(events, seed);
    EXPECT_TRUE(std::isfinite(driver.duration_s()));
    EXPECT_GE(driver.duration_s(), 0);
  }
}

TEST(FarTimes, ThroughALiveChain) {
  for (std::uint64_t seed = 0; seed < 400; ++seed) {
    Draw draw(seed);
    std::vector<Event> events;
    LiveChain chain(
        {}, {}, {}, 2, [&](const Event& event) { events.push_back(event); },
        [](const std::string&) {});
    const char* const names[] = {"motor_a", "feed_a_v", "line_kpa"};
    for (int k = 0; k < 20; ++k) {
      const auto values = draw.values();
      chain.push(names[draw.below(3)], draw.number(),
                 {draw.number(), draw.below(3) ? draw.number() : 0, draw.number()}, values, k);
    }
    chain.finish();
    expect_sane(events, seed);
  }
}

// What cannot be counted is dropped; what comes after it is decoded as if it had not been there.
TEST(FarTimes, LaterEventsStillCome) {
  std::vector<Event> events;
  const auto events_after = [&](const std::vector<SampleBlock>& before) {
    events.clear();
    const RigMatch match{.channels = channels(), .source_channel = {0, 1, 2}, .remarks = {}};
    ChainDriver driver(match, 3, {}, [&](const Event& event) { events.push_back(event); });
    for (const SampleBlock& block : before) driver.push(block);
    Wave wave(1000);
    wave.hold(0, 1).hold(4, 2).hold(0, 3);
    driver.push({.channel = 0, .clock = wave.clock, .values = wave.values});
    driver.finish();
    return bytes(events);
  };
  const std::string right = events_after({});
  EXPECT_EQ(of_kind(events, Kind::MOTOR_START).size(), 1U);
  const std::vector<float> values(20'000, 5);
  const std::vector<std::int64_t> times_ns(values.size(), kMax - 1);
  std::vector<SampleBlock> wrong{{.channel = 0, .times_ns = times_ns, .values = values}};
  for (const SampleClock& clock :
       {SampleClock{-20'000'000, 1'000'000'000'000'000, 1}, SampleClock{0, kMax, 1},
        SampleClock{0, 1, kMax}, SampleClock{kMax, 1'000'000, 1}, SampleClock{kMin, 1'000'000, 1},
        SampleClock{0, -1, 1}, SampleClock{0, 1, 0}, SampleClock{0, 1, -1}})
    wrong.push_back({.channel = 0, .clock = clock, .values = values});
  wrong.push_back({.channel = 0, .clock = {0, 1'000'000, 1}, .first = kMax - 5, .values = values});
  for (const SampleBlock& block : wrong) EXPECT_EQ(events_after({block}), right);
  EXPECT_EQ(events_after(wrong), right);
}

// A century between two samples costs no more than a second between them.
TEST(FarTimes, ACenturyOfSilence) {
  for (const std::int64_t pause_ns : {std::int64_t{1'000'000'000}, kLatest_ns - 5'000'000'000}) {
    std::vector<Event> events;
    Chain chain(channels(), {});
    chain.on_event.connect([&](const Event& event) { events.push_back(event); });
    Wave wave(1000);
    wave.hold(0, 1).hold(4, 2);
    for (std::size_t c = 0; c < 3; ++c)
      chain.push({.channel = c, .clock = wave.clock, .values = wave.values});
    Wave more(1000);
    more.hold(4, 1).hold(0, 2);
    more.clock.start_ns = pause_ns + 2'000'000'000;
    for (std::size_t c = 0; c < 3; ++c)
      chain.push({.channel = c, .clock = more.clock, .values = more.values});
    chain.finish();
    expect_sane(events, 0);
    EXPECT_EQ(of_kind(events, Kind::GAP).size(), 1U);
    EXPECT_EQ(of_kind(events, Kind::FEED_OFF).size(), 1U);
  }
}

}  // namespace
}  // namespace airlatch
