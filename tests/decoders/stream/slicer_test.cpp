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

SampleBlock block(std::size_t channel, const SampleClock& clock, std::int64_t first,
                  std::size_t n) {
  return {.channel = channel, .clock = clock, .first = first, .values = std::span(kZeros).first(n)};
}

TEST(Slicer, CutsOnTheGridOfTheFirstSample) {
  Collector out(1);
  const SampleClock clock = SampleClock::of_rate(1000, 1, 12'345);  // starts anywhere
  out.slicer.push(block(0, clock, 0, 25));
  ASSERT_EQ(out.slices.size(), 2U);  // the third is still open
  EXPECT_EQ(out.slices[0].end_ns, 12'345 + Slicer::kSlice_ns);
  EXPECT_EQ(out.slices[0].channel_and_size[0].second, 10U);
  out.slicer.finish();
  ASSERT_EQ(out.slices.size(), 3U);
  EXPECT_EQ(out.slices[2].channel_and_size[0].second, 5U);
}

TEST(Slicer, WaitsForTheChannelBehind) {
  Collector out(2);
  const SampleClock fast = SampleClock::of_rate(1000), slow = SampleClock::of_rate(4);
  out.slicer.push(block(0, fast, 0, 1000));
  EXPECT_TRUE(out.slices.empty());
  out.slicer.push(block(1, slow, 0, 2));  // at 0 and 0.25 s
  EXPECT_EQ(out.slices.size(), 25U);
  out.slicer.end_channel(1);
  EXPECT_EQ(out.slices.size(), 99U);  // the last may still get more of the fast one
  out.slicer.finish();
  EXPECT_EQ(out.slices.size(), 100U);
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
