// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/stream/sample_block.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

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

constexpr std::int64_t kMost = std::numeric_limits<std::int64_t>::max(),
                       kLeast = std::numeric_limits<std::int64_t>::min();

// Against long arithmetic, at the ends of all numbers.
TEST(SampleClock, BeyondItsNumbersItSaturates) {
  __extension__ using Wide = __int128;
  const std::int64_t ends[] = {0,         1,     -1,    7, 40'000'000, airlatch::kLatest_ns,
                               kMost - 1, kMost, kLeast};
  for (const std::int64_t start : ends)
    for (const std::int64_t num : ends)
      for (const std::int64_t n : ends)
        for (const std::int64_t den : {std::int64_t{1}, std::int64_t{3}, kMost}) {
          if (n == kLeast && num == kLeast) continue;  // too wide for this
          const Wide twice = static_cast<Wide>(2) * n * num + den,
                     over = static_cast<Wide>(2) * den;
          Wide exact = twice / over - (twice % over != 0 && twice < 0 ? 1 : 0) + start;
          exact = std::min<Wide>(std::max<Wide>(exact, -static_cast<Wide>(kMost)), kMost);
          const std::int64_t is = SampleClock{start, num, den}.time_ns(n);
          // The least number itself may come out where nothing saturated.
          EXPECT_TRUE(is == static_cast<std::int64_t>(exact) || (is == kLeast && exact == -kMost))
              << start << " " << num << "/" << den << " " << n;
          const SampleClock clock{start, num, den};
          if (!clock.sound() || !airlatch::countable(n)) continue;
          const std::int64_t k = clock.index_at_or_after(n);
          if (std::abs(k) == kMost) continue;
          EXPECT_GE(clock.time_ns(k), n);
          EXPECT_LT(clock.time_ns(k - 1), n);
        }
}

TEST(SampleClock, RatesFromOutsideAreChecked) {
  for (const double rate : {std::nan(""), HUGE_VAL, -HUGE_VAL, 0.0, -0.0, -1.0, 9e-7, 1.1e9, 1e300})
    EXPECT_FALSE(SampleClock::of_rate_hz(rate)) << rate;
  EXPECT_EQ(SampleClock::of_rate_hz(44100), SampleClock::of_rate(44100));
  for (const double rate : {1e-6, 0.1, 50.000001, 1e9}) {
    ASSERT_TRUE(SampleClock::of_rate_hz(rate)) << rate;
    EXPECT_TRUE(SampleClock::of_rate_hz(rate)->sound()) << rate;
    EXPECT_NEAR(SampleClock::of_rate_hz(rate)->period_s() * rate, 1, 1e-9);
  }
}

TEST(SampleBlock, WhatCanBeCounted) {
  const std::vector<float> values(3);
  const auto sound = [&](const SampleClock& clock, std::int64_t first) {
    return airlatch::SampleBlock{.clock = clock, .first = first, .values = values}.sound();
  };
  EXPECT_TRUE(sound({airlatch::kLatest_ns - 2, 1, 1}, 0));
  EXPECT_FALSE(sound({airlatch::kLatest_ns - 1, 1, 1}, 0));
  EXPECT_TRUE(sound({0, 1, 1000}, 0));
  EXPECT_FALSE(sound({0, 1, 1001'000}, 0));
  EXPECT_FALSE(sound({0, 0, 1}, 0));
  EXPECT_FALSE(sound({0, 1, 0}, 0));
  EXPECT_FALSE(sound({0, -1, -1}, 0));
  EXPECT_FALSE(sound({0, 1, 1}, kMost));
  EXPECT_FALSE(sound({0, 1, 1}, kLeast));
  EXPECT_FALSE(sound({kLeast, 1, 1}, 0));
  EXPECT_FALSE(sound({0, 1'000'000'000'000'001, 1}, 0));
  EXPECT_EQ(airlatch::since_ns(kMost, -1), kMost);
  EXPECT_EQ(airlatch::since_ns(kLeast, 1), -kMost);
  EXPECT_EQ(airlatch::since_ns(5, 7), -2);
}
