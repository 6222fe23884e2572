// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/stream/trace.hpp"

#include <gtest/gtest.h>

namespace airlatch {
namespace {

// Whatever its length, a trace keeps the count, the mean and, of a straight line, its points.
TEST(Trace, AnyLengthInBoundedMemory) {
  Trace trace(10);
  const int n = 1'000'000;
  for (int k = 0; k < n; ++k) trace.add({10 + k * 1e-3, 2 + 0.5 * k * 1e-3, 1});
  ASSERT_LE(trace.points().size(), Trace::kMost);
  EXPECT_GE(trace.points().size(), Trace::kMost / 2 - 1);
  double total = 0, last_s = 0;
  for (const auto& point : trace.points()) {
    EXPECT_NEAR(point.value, 2 + 0.5 * (point.time_s - 10), 1e-7);
    EXPECT_GT(point.time_s, last_s);
    last_s = point.time_s;
    total += point.n;
  }
  EXPECT_EQ(total, n);
}

TEST(Trace, SlowReadingsStayAsTheyAre) {
  Trace trace(0);
  for (int k = 0; k < 100; ++k) trace.add({0.25 * k, static_cast<double>(k), 1});
  ASSERT_EQ(trace.points().size(), 100U);
  EXPECT_EQ(trace.points()[7].value, 7);
}

// Samples added a bin at a time give the points that single samples give.
TEST(Trace, ABinAtATime) {
  std::vector<float> values;
  for (int k = 0; k < 60'000; ++k)
    values.push_back(static_cast<float>(40 + (k * 7919 % 1000) * 1e-3));
  const SampleClock clock = SampleClock::of_rate(10'000);
  Track track;
  Trace bins(0.3), singles(0.3);
  for (std::size_t from = 0; from < values.size(); from += 97) {
    const std::size_t n = std::min<std::size_t>(97, values.size() - from);
    const std::int64_t first = track.end();
    track.append({.channel = 0,
                  .clock = clock,
                  .first = first,
                  .values = std::span(values).subspan(from, n)},
                 0);
    for (std::int64_t k = first; k < track.end();)
      k = bins.add_bin(track, k, track.end(), [](double, double v) { return v; });
    for (std::int64_t k = first; k < track.end(); ++k)
      singles.add({track.time_s(k), track.value(k), 1});
  }
  ASSERT_EQ(bins.points().size(), singles.points().size());
  for (std::size_t i = 0; i < bins.points().size(); ++i) {
    EXPECT_EQ(bins.points()[i].n, singles.points()[i].n) << i;
    EXPECT_NEAR(bins.points()[i].time_s, singles.points()[i].time_s, 1e-9) << i;
    EXPECT_NEAR(bins.points()[i].value, singles.points()[i].value, 1e-9) << i;
  }
}

}  // namespace
}  // namespace airlatch
