// SPDX-License-Identifier: GPL-3.0-or-later
// Runs in a world with flicker noise, hum and contacts that bounce, which the measures do not assume:
// twice the stated uncertainty holds the drawn truth.
#include "decoders/measure/run_measure.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <random>

#include "tests/support/run_waves.hpp"

namespace airlatch {
namespace {
using namespace test;
constexpr float kReturn_ohm = 0.02F;

Waves drawn(std::uint64_t seed) {
  std::mt19937_64 engine(seed);
  std::uniform_real_distribution<double> unit(0, 1);
  RunWaves waves(2000);
  const double stop_s = 2 + 1.5 + 4 * unit(engine);
  waves.rest(2).run(Contact::A, stop_s, 40, RunWaves::End::kCutOff, stop_s + 2).rest(stop_s + 4);
  // The contact opens for some samples of its first milliseconds.
  for (std::size_t k = 4003; k < 4012; ++k) {
    if (unit(engine) < 0.6) continue;
    waves.motor.values[k] = 0;
    waves.feed_a.values[k] = 0;
  }
  Wave back = waves.motor;
  for (float& v : back.values) v *= kReturn_ohm;
  const double turn = 6.28 * unit(engine);
  Waves all = waves.all();
  all.emplace_back(Role::RETURN_VOLTAGE, back);
  for (auto& [role, wave] : all) {
    const double noise = role == Role::MOTOR_CURRENT    ? 0.02
                         : role == Role::LINE_PRESSURE  ? 0.05
                         : role == Role::RETURN_VOLTAGE ? 0.002
                                                        : 0.008;
    ++seed;
    wave.flicker(0.5 * noise, seed * 77).noise(noise, seed * 91);
    if (role != Role::LINE_PRESSURE) wave.hum(noise, 50, turn);
  }
  return all;
}

TEST(RunMeasure, TwiceUHoldsInFlickerAndHum) {
  const std::map<std::string, double> truth = {
      {"run_current", RunWaves::kRun_a},
      {"end_current", RunWaves::kRun_a},
      {"feed_path_resistance", RunWaves::kFeedPath_ohm},
      {"return_path_resistance", static_cast<double>(kReturn_ohm)},
      {"end_pressure", 40}};
  constexpr int kRuns = 60;
  std::map<std::string, int> held, tight;
  for (int k = 0; k < kRuns; ++k) {
    const auto stops =
        of_kind(decode(drawn(static_cast<std::uint64_t>(1000 * k + 5))), Kind::STALL_CUTOFF);
    ASSERT_EQ(stops.size(), 1U) << k;
    for (const auto& [name, value] : truth) {
      const Measure* m = find_measure(stops[0], name);
      ASSERT_NE(m, nullptr) << name << k;
      // The drawn pressure rises to its end at 0.5 ms before the stop's instant: seen from its last
      // 50 ms, which is what the measure looks at, it goes on until then.
      const double later = name == "end_pressure"
                               ? value * RunWaves::kStopLate_s / measure(stops[0], "run_time")
                               : 0;
      held[name] += std::abs(m->value - value - later) <= 2 * m->u;
      tight[name] += m->u < 0.02 * value;
    }
  }
  for (const auto& [name, value] : truth) {
    EXPECT_GE(held[name], 0.88 * kRuns) << name;  // 95 %, less what 60 runs scatter
    EXPECT_GE(tight[name], 0.9 * kRuns) << name;  // and not by saying little
  }
}

TEST(RunMeasure, WhatStoodAtItsLimitIsMissing) {
  RunWaves waves(2000);
  waves.rest(1).run(Contact::A, 4, 40, RunWaves::End::kCutOff, 6).rest(8).noise(3);
  std::vector<ChainChannel> channels;
  for (auto& [role, wave] : waves.all()) channels.push_back(channel_of(role, wave.clock));
  for (ChainChannel& channel : channels) {
    if (channel.rig.role == Role::MOTOR_CURRENT) channel.rig.range_max = 2;
    if (channel.rig.role == Role::LINE_PRESSURE) channel.rig.range_max = 30;
  }
  for (float& v : waves.motor.values) v = std::min(v, 2.0F);
  for (float& v : waves.line.values) v = std::min(v, 30.0F);
  const auto stops = of_kind(decode(waves.all(), 4096, {}, channels), Kind::STALL_CUTOFF);
  ASSERT_EQ(stops.size(), 1U);
  for (const char* name : {"run_current", "end_current", "end_pressure", "rise_rate", "energy",
                           "feed_path_resistance"})
    EXPECT_EQ(missing(stops[0], name), MissingCode::OUT_OF_RANGE) << name;
}

}  // namespace
}  // namespace airlatch
