// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/leak_decay.hpp"

#include <gtest/gtest.h>

#include "tests/support/run_waves.hpp"

namespace airlatch {
namespace {
using namespace test;
using End = RunWaves::End;

// A run to `from_kpa`, then `curve(t)` until 25 s after the stop at 3 s.
template <class Curve>
Waves held(std::int64_t rate_hz, double from_kpa, Curve curve, std::uint64_t seed,
           double noise_kpa = 0.05) {
  RunWaves waves(rate_hz);
  waves.rest(1).run(Contact::A, 3, from_kpa, End::kNever);
  waves.motor.line(0, 3.001).hold(0, 28);
  waves.feed_a.hold(12, 4).hold(0, 28);
  waves.feed_b.hold(0, 28);
  waves.supply.hold(12, 28);
  waves.line.curve(curve, 28);
  waves.noise(seed);
  waves.line.noise(noise_kpa, seed + 100);
  return waves.all();
}

ChainSettings quarter_litre() {
  ChainSettings settings;
  settings.rig.line_volume_ml = 250;
  settings.rig.line_volume_u_ml = 10;
  return settings;
}

// 40 kPa and 100 s in 250 ml: slope -0.4 kPa/s, 24 kPa/min, 0.1 Pa m3/s; as an ideal hole
// 0.0703121 mm (tests/reference).
TEST(LeakDecay, ExponentialDecay) {
  for (const std::int64_t rate_hz : {4, 1000}) {
    const auto decays =
        of_kind(decode(held(
                           rate_hz, 40, [](double t) { return 40 * std::exp(-t / 100); }, 1),
                       4096, quarter_litre()),
                Kind::LEAK_DECAY);
    ASSERT_EQ(decays.size(), 1U) << rate_hz;
    const Event& decay = decays[0];
    const double at_s = decay.time_s - 3, p = 40 * std::exp(-at_s / 100);
    const double u = find_measure(decay, "slope")->u;
    EXPECT_NEAR(measure(decay, "slope"), -p / 100, 3 * u);
    EXPECT_LT(u, 0.02);
    EXPECT_NEAR(measure(decay, "decay_rate"), -60 * measure(decay, "slope"), 1e-9);
    EXPECT_NEAR(measure(decay, "time_constant"), 100, 3 * find_measure(decay, "time_constant")->u);
    EXPECT_NEAR(measure(decay, "leak_rate"), -0.25 * measure(decay, "slope"), 1e-9);
    // 0.1 Pa m3/s = 1 mbar l/s = 59.2154 standard cm3/min (tests/reference).
    EXPECT_NEAR(measure(decay, "leak_rate_mbar_l_s"), 10 * measure(decay, "leak_rate"), 1e-9);
    EXPECT_NEAR(measure(decay, "leak_rate_sccm"), 592.154 * measure(decay, "leak_rate"), 1e-3);
    EXPECT_NEAR(measure(decay, "leak_hole"), 0.0703 * std::sqrt(p / 40), 0.004);
    EXPECT_GE(find_measure(decay, "leak_rate")->u, 0.04 * measure(decay, "leak_rate"));
  }
}

// Freshly pumped air gives off its heat and falls to a plateau: no leak.
TEST(LeakDecay, RelaxationToAPlateauIsNoLeak) {
  for (const std::int64_t rate_hz : {4, 1000}) {
    const auto decays =
        of_kind(decode(held(
                    rate_hz, 40, [](double t) { return 37 + 3 * std::exp(-t / 1.2); }, 2)),
                Kind::LEAK_DECAY);
    ASSERT_EQ(decays.size(), 1U);
    EXPECT_NEAR(measure(decays[0], "decay_rate"), 0, 3 * find_measure(decays[0], "decay_rate")->u);
    // Two relaxations of unknown size and time, and a slow third: at four readings a second 0.24.
    EXPECT_LT(find_measure(decays[0], "decay_rate")->u, rate_hz < 50 ? 0.3 : 0.2);
    EXPECT_NE(decays[0].note.find("decay_rate below"), std::string::npos);
    EXPECT_EQ(find_measure(decays[0], "time_constant"), nullptr);
  }
}

TEST(LeakDecay, ALeakIsNotHiddenByTheRelaxation) {
  const auto decays = of_kind(
      decode(held(
          1000, 40, [](double t) { return 37 * std::exp(-t / 60) + 3 * std::exp(-t / 1.2); }, 3)),
      Kind::LEAK_DECAY);
  ASSERT_EQ(decays.size(), 1U);
  const double at_s = decays[0].time_s - 3;
  EXPECT_NEAR(measure(decays[0], "slope") / (-37.0 / 60 * std::exp(-at_s / 60)), 1, 0.01);
}

// A choked hole on the vacuum side: straight, 0.632285 kPa/s (tests/reference, exact decay).
TEST(LeakDecay, ChokedHoleOnTheVacuumSideIsStraight) {
  const auto decays = of_kind(decode(held(
                                         1000, -75, [](double t) { return -75 + 0.632285 * t; }, 4),
                                     4096, quarter_litre()),
                              Kind::LEAK_DECAY);
  ASSERT_EQ(decays.size(), 1U);
  EXPECT_NEAR(measure(decays[0], "slope"), 0.632285, 0.004);
  EXPECT_EQ(decays[0].direction, Direction::VACUUM);
  EXPECT_NEAR(measure(decays[0], "leak_hole"), 0.1, 0.001);
}

TEST(LeakDecay, NothingHeldNothingSaid) {
  RunWaves waves(1000);
  waves.rest(1).run(Contact::A, 3, 0.2, End::kFeedOff).rest(28).noise(5);
  EXPECT_TRUE(of_kind(decode(waves.all()), Kind::LEAK_DECAY).empty());
}

// Temperature-corrected decay (ASTM E2930's relation, p / T constant in a tight line): from 140.0
// kPa absolute at 293.15 K to 138.5 kPa at 292.65 K is 138.7366308 kPa at the first temperature, so
// 0.2387856 kPa of the 1.5 kPa are thermal (derived).
TEST(LeakDecay, ColdAirIsNoLeak) {
  EXPECT_NEAR(138.5 * 293.15 / 292.65, 138.7366308, 5e-8);
  const auto kelvin = [](double t) { return 293.15 - 0.5 * t / 25; };
  for (const bool leaks : {false, true}) {
    const auto alone = [&](double t) { return 38.675 * (leaks ? std::exp(-t / 900) : 1.0); };
    Waves waves = held(
        20, 38.675, [&](double t) { return (alone(t) + 101.325) * kelvin(t) / 293.15 - 101.325; },
        11, 0.02);
    const auto blind = of_kind(decode(waves), Kind::LEAK_DECAY);
    Wave air(20);
    air.hold(20, 3).curve([&](double t) { return kelvin(t) - 273.15; }, 28);
    waves.emplace_back(Role::AIR_TEMPERATURE, air);
    const auto seeing = of_kind(decode(waves), Kind::LEAK_DECAY);
    ASSERT_EQ(blind.size(), 1U);
    ASSERT_EQ(seeing.size(), 1U);
    const Measure& slope = *find_measure(seeing[0], "slope");
    const double at_s = seeing[0].time_s - 3, truth = leaks ? -alone(at_s) / 900 : 0;
    EXPECT_NEAR(slope.value, truth, 3 * slope.u);
    EXPECT_LT(slope.u, 0.004);
    // Without the thermometer the cold shows as a loss of 0.48 kPa/K x 0.02 K/s.
    EXPECT_NEAR(find_measure(blind[0], "slope")->value - slope.value, -0.0096, 0.005);
  }
}

// A tight line overnight, day and night 10 K apart: with a thermometer or without, no leak.
TEST(LeakDecay, DayAndNightAreNoLeak) {
  constexpr double kDay_s = 86400;
  const auto kelvin = [](double t) { return 293.15 + 5 * std::sin(2 * 3.14159265 * t / kDay_s); };
  for (const bool thermometer : {false, true})
    for (const double held_kpa : {40.0, -50.0}) {
      Wave motor(1), feed(1), line(1), air(1);
      motor.hold(0, 10.5).hold(3, 15.5).hold(0, 20 + kDay_s).noise(0.01, 1);
      feed.hold(0, 10.5).hold(12, 18.5).hold(0, 20 + kDay_s).noise(0.01, 2);
      line.hold(0, 10.5).line(held_kpa, 15.5);
      line.curve([&](double t) { return (held_kpa + 101.325) * kelvin(t) / 293.15 - 101.325; },
                 20 + kDay_s);
      line.noise(0.05, 3);
      air.hold(20, 15.5).curve([&](double t) { return kelvin(t) - 273.15; }, 20 + kDay_s);
      air.noise(0.05, 4);
      Waves waves = {
          {Role::MOTOR_CURRENT, motor}, {Role::FEED_A_VOLTAGE, feed}, {Role::LINE_PRESSURE, line}};
      if (thermometer) waves.emplace_back(Role::AIR_TEMPERATURE, air);
      const auto decays = of_kind(decode(waves), Kind::LEAK_DECAY);
      ASSERT_EQ(decays.size(), 1U);
      const Measure& rate = *find_measure(decays[0], "decay_rate");
      EXPECT_LE(std::abs(rate.value), 2 * rate.u) << held_kpa << thermometer;
      EXPECT_LT(rate.u, thermometer ? 0.005 : 0.05) << held_kpa;
      EXPECT_NE(decays[0].note.find("decay_rate below"), std::string::npos);
    }
}

}  // namespace
}  // namespace airlatch
