// SPDX-License-Identifier: GPL-3.0-or-later
// How long after the instant it tells of an event comes, when samples arrive as they do live.
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdio>
#include <map>

#include "decoders/context.hpp"
#include "plugin/rehearse/faults.hpp"
#include "tests/support/score.hpp"

namespace airlatch {
namespace {
using namespace test;

// The end of what an event tells of.
double decidable_s(const Event& event) {
  const Measure* length = nullptr;
  if (event.kind == Kind::LEAK_DECAY || event.kind == Kind::DROPOUT || event.kind == Kind::GAP ||
      event.kind == Kind::CLIPPED)
    length = find_measure(event, "duration");
  if (event.kind == Kind::NO_RESPONSE) length = find_measure(event, "waited");
  return event.time_s + (length ? length->value : 0);
}

// The longest wait of each kind over all faults; events of the capture's end do not count.
std::map<Kind, double> longest_waits(std::int64_t rate_hz, std::size_t at_once) {
  std::map<Kind, double> waits;
  for (const Fault& fault : faults()) {
    const Rehearsal r = rehearse({.fault = fault.name, .rate_hz = rate_hz, .seed = 7, .hold_s = 3});
    std::vector<ChainChannel> channels;
    for (const auto& entry : r.rig.channel)
      channels.push_back({.rig = entry, .clock = r.clock, .logic = false});
    Chain chain(channels, {.rig = r.rig, .plan = {}});
    double now_s = 0;
    bool live = true;
    chain.on_event.connect([&](const Event& event) {
      if (!live) return;
      double& longest = waits[event.kind];
      longest = std::max(longest, now_s - decidable_s(event));
    });
    const std::size_t n = r.channels.front().values.size();
    for (std::size_t k = 0; k < n; k += at_once)
      for (std::size_t c = 0; c < channels.size(); ++c) {
        const std::size_t size = std::min(at_once, n - k);
        now_s = r.clock.period_s() * static_cast<double>(k + size - 1);
        chain.push({.channel = c,
                    .clock = r.clock,
                    .first = static_cast<std::int64_t>(k),
                    .values = std::span(r.channels[c].values).subspan(k, size)});
      }
    live = false;
    chain.finish();
  }
  return waits;
}

void expect_within(const std::map<Kind, double>& waits, const std::map<Kind, double>& most_s) {
  for (const auto& [kind, wait_s] : waits) {
    std::printf("%-20s %.2f s\n", name_of(kind).c_str(), wait_s);
    ASSERT_TRUE(most_s.contains(kind)) << name_of(kind);
    EXPECT_LE(wait_s, most_s.at(kind)) << name_of(kind);
  }
}

TEST(Soon, AThousandSamplesASecond) {
  expect_within(longest_waits(1000, 10), {{Kind::FEED_ON, 0.12},
                                          {Kind::FEED_OFF, 0.12},
                                          {Kind::MOTOR_START, 1.6},
                                          {Kind::DIRECTION_REVERSAL, 1.6},
                                          {Kind::STALL_CUTOFF, 0.6},
                                          {Kind::MOTOR_STOP, 0.6},
                                          {Kind::DROPOUT, 0.1},
                                          {Kind::GAP, 0.1},
                                          {Kind::CLIPPED, 0.1},
                                          {Kind::RUN_ON, 0.1},
                                          {Kind::RESTART, 0.2},
                                          {Kind::NO_RESPONSE, 0.2},
                                          {Kind::LOCKED_ROTOR, 0.4},
                                          {Kind::LEAK_DECAY, 0.2}});
}

TEST(Soon, FourReadingsASecond) {
  // A feed's level is that after its edge: the next whole reading's.
  expect_within(longest_waits(4, 1), {{Kind::FEED_ON, 0.75},
                                      {Kind::FEED_OFF, 0.75},
                                      {Kind::MOTOR_START, 2},
                                      {Kind::DIRECTION_REVERSAL, 2},
                                      {Kind::STALL_CUTOFF, 1},
                                      {Kind::MOTOR_STOP, 1},
                                      {Kind::DROPOUT, 0.5},
                                      {Kind::GAP, 0.5},
                                      {Kind::CLIPPED, 0.5},
                                      {Kind::RUN_ON, 0.5},
                                      {Kind::RESTART, 0.7},
                                      {Kind::NO_RESPONSE, 0.7},
                                      {Kind::LEAK_DECAY, 0.9}});
}

}  // namespace
}  // namespace airlatch
