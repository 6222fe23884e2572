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
double decidable_s(const v1::Event& event) {
  const v1::Measure* length = nullptr;
  if (event.kind() == v1::LEAK_DECAY || event.kind() == v1::DROPOUT || event.kind() == v1::GAP ||
      event.kind() == v1::CLIPPED)
    length = find_measure(event, "duration");
  if (event.kind() == v1::NO_RESPONSE) length = find_measure(event, "waited");
  return event.time_s() + (length ? length->value() : 0);
}

// The longest wait of each kind over all faults; events of the capture's end do not count.
std::map<v1::Kind, double> longest_waits(std::int64_t rate_hz, std::size_t at_once) {
  std::map<v1::Kind, double> waits;
  for (const Fault& fault : faults()) {
    const Rehearsal r = rehearse({.fault = fault.name, .rate_hz = rate_hz, .seed = 7, .hold_s = 3});
    std::vector<ChainChannel> channels;
    for (const auto& entry : r.rig.channel())
      channels.push_back({.rig = entry, .clock = r.clock, .logic = false});
    Chain chain(channels, {.rig = r.rig, .plan = {}});
    double now_s = 0;
    bool live = true;
    chain.on_event.connect([&](const v1::Event& event) {
      if (!live) return;
      double& longest = waits[event.kind()];
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

void expect_within(const std::map<v1::Kind, double>& waits,
                   const std::map<v1::Kind, double>& most_s) {
  for (const auto& [kind, wait_s] : waits) {
    std::printf("%-20s %.2f s\n", v1::Kind_Name(kind).c_str(), wait_s);
    ASSERT_TRUE(most_s.contains(kind)) << v1::Kind_Name(kind);
    EXPECT_LE(wait_s, most_s.at(kind)) << v1::Kind_Name(kind);
  }
}

TEST(Soon, AThousandSamplesASecond) {
  expect_within(longest_waits(1000, 10), {{v1::FEED_ON, 0.12},
                                          {v1::FEED_OFF, 0.12},
                                          {v1::MOTOR_START, 1.6},
                                          {v1::DIRECTION_REVERSAL, 1.6},
                                          {v1::STALL_CUTOFF, 0.6},
                                          {v1::MOTOR_STOP, 0.6},
                                          {v1::DROPOUT, 0.1},
                                          {v1::GAP, 0.1},
                                          {v1::CLIPPED, 0.1},
                                          {v1::RUN_ON, 0.1},
                                          {v1::RESTART, 0.2},
                                          {v1::NO_RESPONSE, 0.2},
                                          {v1::LOCKED_ROTOR, 0.4},
                                          {v1::LEAK_DECAY, 0.2}});
}

TEST(Soon, FourReadingsASecond) {
  expect_within(longest_waits(4, 1), {{v1::FEED_ON, 0.5},
                                      {v1::FEED_OFF, 0.5},
                                      {v1::MOTOR_START, 2},
                                      {v1::DIRECTION_REVERSAL, 2},
                                      {v1::STALL_CUTOFF, 1},
                                      {v1::MOTOR_STOP, 1},
                                      {v1::DROPOUT, 0.5},
                                      {v1::GAP, 0.5},
                                      {v1::CLIPPED, 0.5},
                                      {v1::RUN_ON, 0.5},
                                      {v1::RESTART, 0.7},
                                      {v1::NO_RESPONSE, 0.7},
                                      {v1::LEAK_DECAY, 0.9}});
}

}  // namespace
}  // namespace airlatch
