// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/stream/slicer.hpp"

#include <gtest/gtest.h>

#include <vector>

namespace airlatch {
namespace {

struct Slice {
  std::int64_t end_ns;
  std::vector<std::pair<std::size_t, std::size_t>> channel_and_size;
};

struct Collector {
  std::vector<Slice> slices;
  Slicer slicer;
  explicit Collector(std::size_t channels)
      : slicer(channels,
               [this](const std::vector<SampleBlock>& blocks, std::int64_t, std::int64_t end_ns) {
                 Slice slice{end_ns, {}};
                 for (const SampleBlock& block : blocks)
                   slice.channel_and_size.emplace_back(block.channel, block.values.size());
                 slices.push_back(slice);
               }) {}
};

const std::vector<float> kZeros(100000, 0.0F);
constexpr std::size_t kSlice_ms = Slicer::kSlice_ns / 1'000'000;  // samples at 1 kS/s

SampleBlock block(std::size_t channel, const SampleClock& clock, std::int64_t first,
                  std::size_t n) {
  return {.channel = channel, .clock = clock, .first = first, .values = std::span(kZeros).first(n)};
}

TEST(Slicer, CutsOnTheGridOfTheFirstSample) {
  Collector out(1);
  const SampleClock clock = SampleClock::of_rate(1000, 1, 12'345);  // starts anywhere
  out.slicer.push(block(0, clock, 0, 2 * kSlice_ms + 5));
  ASSERT_EQ(out.slices.size(), 2U);  // the third is still open
  EXPECT_EQ(out.slices[0].end_ns, 12'345 + Slicer::kSlice_ns);
  EXPECT_EQ(out.slices[0].channel_and_size[0].second, kSlice_ms);
  out.slicer.finish();
  ASSERT_EQ(out.slices.size(), 3U);
  EXPECT_EQ(out.slices[2].channel_and_size[0].second, 5U);
}

// A time that was only promised is not a channel's first sample.
TEST(Slicer, TheGridWaitsForAnEarlierSampleOfAnother) {
  Collector out(2);
  const SampleClock clock = SampleClock::of_rate(1000);
  out.slicer.push(block(0, clock, 1000, 1));
  out.slicer.advance(0);  // the other may still begin before 1 s
  out.slicer.push(block(0, clock, 1001, 100));
  out.slicer.push(block(1, clock, 500, 1000));
  out.slicer.finish();
  ASSERT_FALSE(out.slices.empty());
  EXPECT_EQ(out.slices[0].end_ns, 500'000'000 + Slicer::kSlice_ns);
  EXPECT_EQ(out.slicer.dropped(), 0);
}

TEST(Slicer, WhatComesAfterAChannelsEndIsDropped) {
  Collector out(2);
  const SampleClock clock = SampleClock::of_rate(1000);
  out.slicer.push(block(0, clock, 0, 100));
  out.slicer.end_channel(1);
  out.slicer.push(block(1, clock, 0, 100));
  out.slicer.finish();
  EXPECT_EQ(out.slicer.dropped(), 100);
}

TEST(Slicer, WaitsForTheChannelBehind) {
  Collector out(2);
  const SampleClock fast = SampleClock::of_rate(1000), slow = SampleClock::of_rate(4);
  out.slicer.push(block(0, fast, 0, 1000));
  EXPECT_TRUE(out.slices.empty());
  out.slicer.push(block(1, slow, 0, 2));  // at 0 and 0.25 s
  EXPECT_EQ(out.slices.size(), 250 / kSlice_ms);
  out.slicer.end_channel(1);
  EXPECT_EQ(out.slices.size(),
            1000 / kSlice_ms - 1);  // the last may still get more of the fast one
  out.slicer.finish();
  EXPECT_EQ(out.slices.size(), 1000 / kSlice_ms);
}

// Whole samples a slice (10 kS/s), and not (44.1 kS/s): each sample lies in its own slice.
TEST(Slicer, SamplesLieInTheirSlice) {
  for (const std::int64_t rate_hz : {10'000, 44'100}) {
    const SampleClock clock = SampleClock::of_rate(rate_hz, 1, 77);
    std::int64_t next = 0, before_ns = 77;
    Slicer slicer(1,
                  [&](const std::vector<SampleBlock>& blocks, std::int64_t, std::int64_t end_ns) {
                    for (const SampleBlock& piece : blocks) {
                      EXPECT_EQ(piece.first, next);
                      EXPECT_GE(piece.time_ns(0), before_ns);
                      EXPECT_LT(piece.time_ns(piece.values.size() - 1), end_ns);
                      next += std::ssize(piece.values);
                    }
                    before_ns = end_ns;
                  });
    for (std::int64_t k = 0; k < 50'000; k += 1'237)
      slicer.push(
          block(0, clock, k, static_cast<std::size_t>(std::min<std::int64_t>(1'237, 50'000 - k))));
    slicer.finish();
    EXPECT_EQ(next, 50'000);
  }
}

TEST(Slicer, EmptySlicesArePassedOver) {
  Collector out(1);
  const SampleClock slow = SampleClock::of_rate(1, 3600);  // one an hour
  out.slicer.push(block(0, slow, 0, 3));
  out.slicer.finish();
  EXPECT_EQ(out.slices.size(), 3U);
}

TEST(Slicer, ATimeThatStepsBackIsDroppedAndCounted) {
  Collector out(1);
  const std::vector<std::int64_t> times = {0, 1'000'000, 500'000, 2'000'000};
  out.slicer.push({.channel = 0, .times_ns = times, .values = std::span(kZeros).first(4)});
  out.slicer.finish();
  EXPECT_EQ(out.slicer.dropped(), 1);
  EXPECT_EQ(out.slices[0].channel_and_size[0].second, 3U);
}

}  // namespace
}  // namespace airlatch
