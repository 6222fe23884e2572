// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/stream/readings.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace airlatch {
namespace {

// One role's values at an even rate, taken in blocks of `turn`.
Readings read(Role role, const std::vector<float>& values, std::int64_t rate_hz,
              std::size_t turn = 40) {
  Readings readings(role);
  for (std::size_t at = 0; at < values.size(); at += turn) {
    const auto part = std::span(values).subspan(at, std::min(turn, values.size() - at));
    const SampleBlock block{.role = role,
                            .clock = SampleClock::of_rate(rate_hz),
                            .first = static_cast<std::int64_t>(at),
                            .values = part};
    readings.take(block, extremes_of(part), 0, 0);
  }
  return readings;
}

TEST(Readings, ExtremesRestAndCount) {
  std::vector<float> values(1000, 2.0F);
  values[700] = -3;
  values[800] = std::nanf("");
  values[900] = std::numeric_limits<float>::infinity();
  const Readings seen = read(Role::LINE_PRESSURE, values, 1000);
  EXPECT_EQ(seen.count(), 998);
  EXPECT_EQ(seen.least(), -3);
  EXPECT_EQ(seen.most(), 2);
  EXPECT_EQ(seen.rest(), 2);
  EXPECT_EQ(seen.impossible().readings, 0);
}

// 10 ms of readings in a row are lasting, whatever the cut; two in a row of a fast capture, or a
// hundred of them scattered among a hundred thousand, are spikes.
TEST(Readings, ASpikeIsNotLasting) {
  std::vector<float> values(100'000, 1.0F);
  for (std::size_t k = 0; k < 100; ++k) values[k * 1000] = values[k * 1000 + 1] = -300;
  const Readings spikes = read(Role::LINE_PRESSURE, values, 1000);
  EXPECT_EQ(spikes.impossible().readings, 200);
  EXPECT_FALSE(spikes.lasting(spikes.impossible(), true));
  EXPECT_EQ(spikes.impossible().worst, -300);
  for (std::size_t k = 0; k < 11; ++k) values[50'500 + k] = -300;
  for (const std::size_t turn : {1U, 7U, 100'000U}) {
    const Readings stretch = read(Role::LINE_PRESSURE, values, 1000, turn);
    EXPECT_TRUE(stretch.lasting(stretch.impossible(), false)) << turn;
  }
}

TEST(Readings, AHundredthOfASlowMetersReadingsIsLastingAtTheEnd) {
  std::vector<float> values(300, 1.0F);
  values[100] = values[200] = 2000;
  Readings seen = read(Role::MOTOR_CURRENT, values, 2);
  EXPECT_FALSE(seen.lasting(seen.impossible(), true));
  values[250] = 2000;
  seen = read(Role::MOTOR_CURRENT, values, 2);
  EXPECT_FALSE(seen.lasting(seen.impossible(), false));
  EXPECT_TRUE(seen.lasting(seen.impossible(), true));
}

TEST(Readings, UnlikelyIsNotImpossible) {
  const Readings seen = read(Role::LINE_PRESSURE, std::vector<float>(100, 731.0F), 10);
  EXPECT_TRUE(seen.lasting(seen.unlikely(), true));
  EXPECT_EQ(seen.impossible().readings, 0);
  const Readings cold = read(Role::AIR_TEMPERATURE, std::vector<float>(100, -300.0F), 10);
  EXPECT_TRUE(cold.lasting(cold.impossible(), true));
}

}  // namespace
}  // namespace airlatch
