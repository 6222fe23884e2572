// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/stream/track.hpp"

#include <gtest/gtest.h>

#include "tests/support/wave.hpp"

namespace airlatch {
namespace {
using test::Wave;

Track fill(const Wave& wave) {
  Track track;
  for (std::size_t k = 0; k < wave.values.size(); k += 50)
    track.append(
        {.clock = wave.clock,
         .first = static_cast<std::int64_t>(k),
         .values =
             std::span(wave.values).subspan(k, std::min<std::size_t>(50, wave.values.size() - k))},
        0);
  return track;
}

TEST(Track, KeepsTheLastSecondsOnly) {
  const Track track = fill(Wave(1000).hold(1, 60));
  EXPECT_EQ(track.end(), 60000);
  EXPECT_LE(track.end() - track.begin(), 12001);
  EXPECT_GE(track.end() - track.begin(), 4000);
  EXPECT_NEAR(track.time_s(track.end() - 1), 59.999, 1e-9);
}

// Noise of known standard deviation, on a slope and with steps that are no noise.
TEST(Track, NoiseIsTheReadingsNotTheSignals) {
  Wave wave(10000);
  wave.hold(0, 1).line(40, 3).hold(10, 4).hold(35, 5).noise(0.05, 1);
  EXPECT_NEAR(fill(wave).noise(), 0.05, 0.004);
}

// A converter's step q without noise leaves q / sqrt 12 (JCGM 100 F.2.2.1; 10 mV: 2.88675 mV).
TEST(Track, QuantisationIsTheLeastNoise) {
  Wave wave(1000);
  for (int k = 0; k < 5000; ++k) wave.values.push_back(static_cast<float>(0.01 * (k / 500)));
  EXPECT_NEAR(fill(wave).noise(), 0.01 / std::sqrt(12.0), 2e-5);
}

// Without noise a converter's step hides up to the first harmonic of its saw, step / pi; noise of a
// full step dithers it away (exp(-2 pi^2): closed form).
TEST(Track, WhatAveragingCannotBringBack) {
  Wave coarse(1000), dithered(1000);
  coarse.line(2, 5);
  for (float& v : coarse.values) v = 0.2F * std::round(v / 0.2F);
  EXPECT_NEAR(fill(coarse).quantisation_error(), 0.2 / 3.14159265 / std::sqrt(2.0), 2e-3);
  dithered.line(2, 5).noise(0.2, 2);
  for (float& v : dithered.values) v = 0.2F * std::round(v / 0.2F);
  EXPECT_LT(fill(dithered).quantisation_error(), 1e-4);
}

TEST(Track, MeanOfAWindow) {
  const Track track = fill(Wave(1000).hold(2, 1).line(4, 2));
  const auto mean = track.mean(1, 2);
  ASSERT_TRUE(mean);
  EXPECT_EQ(mean->n, 1000);
  EXPECT_NEAR(mean->value, 2.999, 1e-4);  // samples at 1.000 ... 1.999 s
  EXPECT_FALSE(track.mean(1.0001, 1.0009));
  EXPECT_NEAR(track.at_time(1.5005), 3.001, 1e-4);
}

TEST(Track, MissingSamplesAreLeftOut) {
  Wave wave(1000);
  wave.hold(1, 1);
  for (std::size_t k = 200; k < 300; ++k) wave.values[k] = std::numeric_limits<float>::quiet_NaN();
  const Track track = fill(wave);
  EXPECT_EQ(track.end(), 900);
  EXPECT_NEAR(track.time_s(200), 0.3, 1e-9);
}

}  // namespace
}  // namespace airlatch
