#include "decoders/stream/trace.hpp"

#include <gtest/gtest.h>

namespace airlatch {
namespace {

// Whatever its length, a trace keeps the count, the mean and, of a straight line, its points.
TEST(Trace, AnyLengthInBoundedMemory) {
  Trace trace(10);
  const int n = 1'000'000;
  for (int k = 0; k < n; ++k) trace.add(10 + k * 1e-3, 2 + 0.5 * k * 1e-3);
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
  for (int k = 0; k < 100; ++k) trace.add(0.25 * k, k);
  ASSERT_EQ(trace.points().size(), 100U);
  EXPECT_EQ(trace.points()[7].value, 7);
}

}  // namespace
}  // namespace airlatch
