// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/stream/sample_block.hpp"

#include <gtest/gtest.h>

using airlatch::SampleClock;

// One day at 44 100 Hz is 3 810 240 000 samples: the clock must be back on the exact nanosecond.
TEST(SampleClock, ADayAt44100HzEndsOnTheExactNanosecond) {
  const auto clock = SampleClock::of_rate(44100);
  EXPECT_EQ(clock.time_ns(44100LL * 86400), 86'400'000'000'000);
  EXPECT_EQ(clock.time_ns(1), 22676);  // 22675.736... ns, rounded half up
}

TEST(SampleClock, RatesThatDoNotDivideTheNanosecondStayExact) {
  EXPECT_EQ(SampleClock::of_rate(3).time_ns(3'000'000'001), 1'000'000'000'333'333'333);
  EXPECT_EQ(SampleClock::of_rate(1, 4).time_ns(2), 8'000'000'000);  // a reading every 4 s
  EXPECT_EQ(SampleClock::of_rate(10'000'000).time_ns(1), 100);
}

TEST(SampleClock, IndexIsTheInverseOfTime) {
  for (const std::int64_t rate : {1, 3, 44100, 50000, 10'000'000}) {
    const auto clock = SampleClock::of_rate(rate, 1, -7);
    for (const std::int64_t n : {-5LL, 0LL, 1LL, 12345LL, 3'810'240'000LL}) {
      EXPECT_EQ(clock.index_at_or_after(clock.time_ns(n)), n) << rate;
      EXPECT_EQ(clock.index_at_or_after(clock.time_ns(n) + 1), n + 1) << rate;
    }
  }
}
