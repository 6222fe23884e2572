// SPDX-License-Identifier: GPL-3.0-or-later
// The wild world against closed forms: what it adds is what it says.
#include "plugin/rehearse/wild.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "plugin/rehearse/faults.hpp"
#include "plugin/rehearse/rehearsal.hpp"

namespace airlatch {
namespace {

// A first-order sensor follows a ramp at a distance of its lag.
TEST(Wild, ALaggingSensorIsBehindByItsLag) {
  Random noise(1);
  Instrument gauge({.range_min = -100, .range_max = 100, .lag_s = 0.003}, 0.001);
  double read = 0;
  for (int k = 0; k <= 1000; ++k) read = gauge.read(0.001 * k, 60 * 0.001 * k, 0, noise);
  EXPECT_NEAR(read, 60 * (1 - 0.003), 1e-4);
}

TEST(Wild, AnAveragingMeterGivesTheMeanOfItsTime) {
  Random noise(1);
  Instrument meter({.range_min = -100, .range_max = 100, .average_s = 0.25}, 0.5);
  meter.see(0, 0);
  meter.see(0.25, 1);  // one a quarter second
  meter.begin_average();
  EXPECT_NEAR(meter.read(0.5, 2, 0, noise), 1.5, 1e-6);
}

// Allan variance of flicker noise does not fall with the averaging time (IEEE Std 1139-2008); that
// of white noise falls as its inverse.
TEST(Wild, FlickerIsNotAveragedAway) {
  const auto allan = [](const Sensor& sensor, int n) {
    Random noise(3);
    Instrument meter(sensor, 0.001);
    constexpr int kMeans = 400;
    double last = 0, sum = 0;
    for (int m = 0; m < kMeans; ++m) {
      double mean = 0;
      for (int k = 0; k < n; ++k)
        mean += static_cast<double>(meter.read(0.001 * (m * n + k), 0, 0, noise)) / n;
      if (m > 0) sum += (mean - last) * (mean - last) / 2;
      last = mean;
    }
    return sum / (kMeans - 1);
  };
  const Sensor flicker{.range_min = -9, .range_max = 9, .flicker = 0.1, .flicker_seed = 7},
      white{.noise = 0.1, .range_min = -9, .range_max = 9};
  const double ratio = allan(flicker, 1024) / allan(flicker, 16);
  EXPECT_GT(ratio, 0.6);
  EXPECT_LT(ratio, 1.6);
  EXPECT_NEAR(allan(white, 1024) / allan(white, 16), 1.0 / 64, 0.5 / 64);
}

TEST(Wild, HosesThatGiveHoldMore) {
  PumpParameters p;
  p.give_per_kpa = 3e-4;
  p.tau_leak_pressure_s = p.tau_leak_vacuum_s = 50;
  for (const double gauge_kpa : {-45.0, 0.0, 45.0}) {
    PumpModel model(p);
    model.set_line_kpa(gauge_kpa);
    EXPECT_NEAR(model.isothermal_kpa(), gauge_kpa, 1e-9);
  }
}

// The slope that the truth states is the pressure's own, whatever the law.
TEST(Wild, TheLeaksSlopeIsThePressuresDerivative) {
  for (const LeakLaw law : {LeakLaw::kViscous, LeakLaw::kLaminar, LeakLaw::kHole})
    for (const double gauge_kpa : {-40.0, 45.0}) {
      PumpParameters p;
      p.law = law;
      p.give_per_kpa = 2e-4;
      p.tau_leak_pressure_s = p.tau_leak_vacuum_s = 60;
      p.laminar_k = 1e-11;
      p.hole_m2 = 1e-8;
      PumpModel model(p);
      model.set_line_kpa(gauge_kpa);
      const double slope = model.leak_slope_kpa_s(), before = model.isothermal_kpa();
      model.advance(1e-3);
      EXPECT_NEAR((model.isothermal_kpa() - before) / 1e-3 / slope, 1, 1e-3);
      EXPECT_LT(slope * gauge_kpa, 0);
    }
}

// Every fault stays what it is called, with truths that are numbers.
TEST(Wild, EveryFaultCanBeRehearsedInIt) {
  for (const Fault& fault : faults()) {
    const Rehearsal r =
        rehearse({.fault = fault.name, .rate_hz = 200, .seed = 5, .hold_s = 5, .wild = true});
    EXPECT_EQ(r.finding, fault.finding);
    for (const Event& event : r.truth) {
      EXPECT_TRUE(std::isfinite(event.time_s));
      for (const Measure& m : event.measures) EXPECT_TRUE(std::isfinite(m.value)) << m.name;
    }
    for (const SensorChannel& channel : r.channels)
      for (const float value : channel.values)
        ASSERT_TRUE(std::isfinite(value) || std::isnan(value));
  }
}

}  // namespace
}  // namespace airlatch
