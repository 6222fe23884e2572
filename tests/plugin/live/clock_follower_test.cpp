// SPDX-License-Identifier: GPL-3.0-or-later
// Simulated instruments whose clock is off by a known amount, their packets late by random delays.
#include "plugin/live/clock_follower.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "plugin/rehearse/random.hpp"

namespace airlatch {
namespace {

constexpr std::int64_t kRate_hz = 1000, kPacket = 50;
constexpr double kLeastDelay_s = 0.002, kMeanDelay_s = 0.004;
constexpr std::int64_t kHost_ns = 5'000'000'000'000;  // the host's clock when sampling began

struct Followed {
  double worst_late_s = 0, worst_step_s = 0;  // after the first quarter of an hour; of all steps
  double unfollowed_s = 0;                    // what the nominal clock would be wrong by at the end
  Uncertain drift_ppm = {0, 0};
};

Followed follow(double fast_ppm, double hours, unsigned seed) {
  Random random(seed);
  const double true_period_s = 1.0 / (kRate_hz * (1 + fast_ppm * 1e-6));
  const auto arrival_ns = [&](std::int64_t count) {
    const double delay_s = kLeastDelay_s - kMeanDelay_s * std::log(1 - random.uniform());
    return kHost_ns + std::llround((static_cast<double>(count) * true_period_s + delay_s) * 1e9);
  };
  ClockFollower follower(kRate_hz, arrival_ns(kPacket), kPacket);
  Followed out;
  std::int64_t last_ns = 0;
  const auto packets = static_cast<std::int64_t>(hours * 3600 * kRate_hz / kPacket);
  for (std::int64_t p = 1; p < packets; ++p) {
    const std::int64_t n = p * kPacket;
    follower.arrived(arrival_ns(n + kPacket), n + kPacket);
    std::int64_t until = 0;
    const std::int64_t given_ns = follower.piece_of(n, &until).time_ns(n);
    EXPECT_GT(until, n);
    const double true_s = static_cast<double>(n) * true_period_s;
    const double late_s = static_cast<double>(given_ns - kHost_ns) * 1e-9 - true_s - kLeastDelay_s;
    if (true_s > 900) out.worst_late_s = std::max(out.worst_late_s, std::abs(late_s));
    if (last_ns)
      out.worst_step_s = std::max(
          out.worst_step_s,
          std::abs(static_cast<double>(given_ns - last_ns) * 1e-9 - kPacket * true_period_s));
    last_ns = given_ns;
  }
  out.unfollowed_s = std::abs(hours * 3600 * fast_ppm * 1e-6);
  out.drift_ppm = follower.drift_ppm();
  return out;
}

TEST(ClockFollower, KeepsAFastOrSlowInstrumentWithinTwoMilliseconds) {
  // Quartz clocks are good to 100 ppm (common practice, no source): 2.9 s in eight hours.
  unsigned seed = 1;
  for (const double ppm : {-100.0, -20.0, 0.0, 7.0, 100.0}) {
    const Followed f = follow(ppm, 8, ++seed);
    EXPECT_LT(f.worst_late_s, 0.002) << ppm << " ppm";
    EXPECT_NEAR(f.drift_ppm.value, ppm, 4 * f.drift_ppm.u) << ppm << " ppm";
    EXPECT_GT(f.drift_ppm.u, 0);
    EXPECT_LT(f.drift_ppm.u, 1);
    if (std::abs(ppm) > 50) {
      EXPECT_GT(f.unfollowed_s, 2);
    }
  }
}

TEST(ClockFollower, TimeNeverJumps) {
  // A packet of 50 ms differs by the slew at most: never near the half period that makes a gap.
  const Followed f = follow(100, 1, 3);
  EXPECT_LT(f.worst_step_s, 0.05 * (ClockFollower::kMostSlew + 2e-4) + 2e-9);
}

TEST(ClockFollower, APieceOfAMinuteIsTheNominalClock) {
  ClockFollower follower(kRate_hz, kHost_ns + 50'000'000, kPacket);
  for (std::int64_t n = 2 * kPacket; n < 50 * kRate_hz; n += kPacket)
    follower.arrived(kHost_ns + n * 1'000'000 + 3'000'000, n);
  std::int64_t until = 0;
  EXPECT_EQ(follower.piece_of(49'999, &until).time_ns(49'999), kHost_ns + 49'999'000'000);
  EXPECT_EQ(follower.drift_ppm().u, 0);
}

}  // namespace
}  // namespace airlatch
