// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/measure/shaft_speed.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "tests/support/run_waves.hpp"

namespace airlatch {
namespace {
using namespace test;

// Ripple of 500 Hz with ten segments and two brushes is 3000 rev/min (ripples per revolution: lcm
// of brushes and segments, 10; a public motor-driver header's rule). A bad segment: once a
// revolution.
TEST(ShaftSpeed, RippleOverSegments) {
  for (const double bad : {0.0, 0.5}) {
    RunWaves waves(20000);
    waves.rest(1).run(Contact::A, 3, 40, RunWaves::End::kCutOff, 4).rest(5);
    for (std::size_t k = 21000; k < 60000; ++k) {
      const double t = static_cast<double>(k) / 20000;
      waves.motor.values[k] +=
          static_cast<float>(0.1 * std::sin(2 * 3.14159265358979 * 500 * t) +
                             bad * 0.1 * std::sin(2 * 3.14159265358979 * 50 * t));
    }
    waves.noise(1);
    ChainSettings settings;
    settings.rig.commutator_segments = 10;
    const auto stop = of_kind(decode(waves.all(), 4096, settings), Kind::STALL_CUTOFF);
    ASSERT_EQ(stop.size(), 1U);
    EXPECT_NEAR(measure(stop[0], "shaft_speed"), 3000, 2);
    EXPECT_NEAR(measure(stop[0], "segment_irregularity"), bad, 0.05);
  }
}

TEST(ShaftSpeed, WithoutSegmentsOrRateItIsRefused) {
  RunWaves waves(2000);
  waves.rest(1).run(Contact::A, 3, 40, RunWaves::End::kCutOff, 4).rest(5).noise(2);
  ChainSettings settings;
  const auto stop = [&] {
    return of_kind(decode(waves.all(), 4096, settings), Kind::STALL_CUTOFF).at(0);
  };
  EXPECT_EQ(missing(stop(), "shaft_speed"), MissingCode::NO_CHANNEL);
  settings.rig.commutator_segments = 10;
  EXPECT_EQ(missing(stop(), "shaft_speed"), MissingCode::TOO_SLOW);
}

}  // namespace
}  // namespace airlatch
