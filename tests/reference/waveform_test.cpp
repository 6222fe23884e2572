// SPDX-License-Identifier: GPL-3.0-or-later
// IEEE Std 181 reference-level instants (terms as in the standard; closed forms are the source of
// the numbers) on a one-pole step: 10, 50 and 90 % at 0.105361, 0.693147 and 2.302585 time
// constants, transition duration ln 9.
#include <gtest/gtest.h>

#include <cmath>

#include "decoders/two_state.hpp"
#include "tests/support/decode.hpp"

namespace airlatch {
namespace {

Track track_of(const test::Wave& wave) {
  Track track;
  for (std::size_t k = 0; k < wave.values.size(); k += 100)
    track.append(
        {.role = Role::MOTOR_CURRENT,
         .clock = wave.clock,
         .first = static_cast<std::int64_t>(k),
         .values =
             std::span(wave.values).subspan(k, std::min<std::size_t>(100, wave.values.size() - k))},
        0);
  return track;
}

TEST(Waveform, OnePoleStep) {
  const double tau_s = 0.02, step_s = 0.5;
  test::Wave wave(10000);
  wave.hold(0, step_s).curve([&](double t) { return 5 * (1 - std::exp(-t / tau_s)); }, 1.0);
  const Track track = track_of(wave);
  const auto instant = [&](double part) {
    std::int64_t k = track.begin();
    while (track.value(k) < 5 * part) ++k;
    return crossing_instant(track, {}, k, 5 * part, 0, 5).value;
  };
  // Linear interpolation of a curved step at 100 us: off by h^2 |y''| / (8 y') <= 0.6 us here.
  EXPECT_NEAR(instant(0.1) - step_s, 0.105360516 * tau_s, 1e-6);
  EXPECT_NEAR(instant(0.5) - step_s, 0.693147181 * tau_s, 1e-6);
  EXPECT_NEAR(instant(0.9) - step_s, 2.302585093 * tau_s, 1e-6);
  EXPECT_NEAR(instant(0.9) - instant(0.1), std::log(9) * tau_s, 1e-6);
}

// A linear ramp of length d: 50 % at d/2, exact with linear interpolation (derived).
TEST(Waveform, LinearRamp) {
  test::Wave wave(1000);
  wave.hold(0, 0.4003).line(8, 0.4503).hold(8, 0.8);
  const Track track = track_of(wave);
  std::int64_t k = track.begin();
  while (track.value(k) < 4) ++k;
  EXPECT_NEAR(crossing_instant(track, {}, k, 4, 0, 8).value, 0.4253, 1e-7);
}

// The same step as a feed that comes on: what the decoder itself reports.
TEST(Waveform, FeedThroughAnRcFilter) {
  const double tau_s = 0.004, on_s = 0.50004;
  test::Wave feed(10000);
  feed.hold(0, on_s).curve([&](double t) { return 12 * (1 - std::exp(-t / tau_s)); }, 1.5);
  feed.noise(0.004, 7);
  const auto on = test::of_kind(test::decode({{Role::FEED_A_VOLTAGE, feed}}), Kind::FEED_ON);
  ASSERT_EQ(on.size(), 1U);
  EXPECT_NEAR(on[0].time_s - on_s, std::log(2) * tau_s, 20e-6);  // a fifth of a sample
  EXPECT_NEAR(test::measure(on[0], "level"), 12, 0.05);
}

}  // namespace
}  // namespace airlatch
