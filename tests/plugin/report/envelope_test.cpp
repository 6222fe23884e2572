// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/envelope.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <vector>

#include "plugin/rehearse/random.hpp"

namespace airlatch {
namespace {

std::vector<Envelope::Bin> drawn(const std::vector<float>& values, const SampleClock& clock,
                                 std::size_t cut) {
  Envelope envelope;
  for (std::size_t k = 0; k < values.size(); k += cut)
    envelope.add({.clock = clock,
                  .first = static_cast<std::int64_t>(k),
                  .values = std::span(values).subspan(k, std::min(cut, values.size() - k))},
                 0);
  return envelope.bins();
}

// Sample by sample is the plain way; many at once must give the same bins.
TEST(Envelope, IsTheSameHoweverItIsCut) {
  Random random(11);
  for (const std::int64_t rate_hz : {3, 44'100, 1'000'000})
    for (const std::size_t n : {10U, 2401U, 50'000U}) {
      std::vector<float> values(n);
      for (float& v : values) {
        v = static_cast<float>(random.normal());
        if (random.bits() % 500 == 0) v = std::numeric_limits<float>::quiet_NaN();
        if (random.bits() % 500 == 0) v = std::numeric_limits<float>::infinity();
      }
      const SampleClock clock = SampleClock::of_rate(rate_hz);
      const auto plain = drawn(values, clock, 1);
      EXPECT_LE(plain.size(), Envelope::kMost);
      for (const std::size_t cut : {7U, 1000U, 50'000U}) {
        const auto quick = drawn(values, clock, cut);
        ASSERT_EQ(quick.size(), plain.size()) << rate_hz << ' ' << n << ' ' << cut;
        for (std::size_t k = 0; k < plain.size(); ++k) {
          ASSERT_EQ(quick[k].time_s, plain[k].time_s);
          ASSERT_EQ(quick[k].least, plain[k].least);
          ASSERT_EQ(quick[k].most, plain[k].most);
        }
      }
    }
}

TEST(Envelope, LosesNoSpike) {
  std::vector<float> values(200'000, 1.0F);
  values[123'457] = 9;
  values[199'999] = -3;
  const auto bins = drawn(values, SampleClock::of_rate(10'000), 4096);
  double least = 1, most = 1, spike_s = 0;
  for (const auto& bin : bins) {
    least = std::min(least, bin.least);
    if (bin.most > most) most = bin.most, spike_s = bin.time_s;
  }
  EXPECT_EQ(least, -3);
  EXPECT_EQ(most, 9);
  EXPECT_NEAR(spike_s, 12.3457, 20.0 / 1200);  // within a bin
}

}  // namespace
}  // namespace airlatch
