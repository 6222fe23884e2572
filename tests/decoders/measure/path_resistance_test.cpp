// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/measure/path_resistance.hpp"

#include <gtest/gtest.h>

#include "tests/support/run_waves.hpp"

namespace airlatch {
namespace {
using namespace test;

// Channels on one clock are taken by their sums, others sample by sample; a nanosecond between them
// changes no number. Bounce at the start and an interruption do not count either way.
TEST(PathResistance, BySumsAsBySamples) {
  RunWaves waves(10000);
  waves.rest(1).run(Contact::A, 3, 40, RunWaves::End::kCutOff, 4).rest(2).noise(3);
  for (std::size_t k = 25000; k < 25200; ++k) waves.motor.values[k] = 0;  // 20 ms
  constexpr float kReturn_ohm = 0.04F;
  Wave back = waves.motor;
  for (float& v : back.values) v *= kReturn_ohm;
  Waves together = waves.all();
  together.emplace_back(Role::RETURN_VOLTAGE, back);
  Waves apart = together;
  for (auto& [role, wave] : apart)
    if (role == Role::SUPPLY_VOLTAGE || role == Role::RETURN_VOLTAGE) wave.clock.start_ns += 1;
  const auto one = of_kind(decode(together), Kind::STALL_CUTOFF);
  const auto other = of_kind(decode(apart), Kind::STALL_CUTOFF);
  ASSERT_EQ(one.size(), 1U);
  ASSERT_EQ(other.size(), 1U);
  for (const char* name : {"feed_path_resistance", "return_path_resistance"}) {
    const Measure *a = find_measure(one[0], name), *b = find_measure(other[0], name);
    ASSERT_TRUE(a && b) << name;
    EXPECT_NEAR(a->value / b->value, 1, 1e-4) << name;
    EXPECT_NEAR(a->u / b->u, 1, 1e-3) << name;
  }
  EXPECT_NEAR(measure(one[0], "feed_path_resistance"), RunWaves::kFeedPath_ohm, 0.002);
  EXPECT_NEAR(measure(one[0], "return_path_resistance"), kReturn_ohm, 0.0008);
}

}  // namespace
}  // namespace airlatch
