// SPDX-License-Identifier: GPL-3.0-or-later
// The made-up pump against closed forms of the physics it is made of.
#include "plugin/rehearse/pump_model.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <numbers>
#include <sstream>
#include <string>

namespace airlatch {
namespace {

PumpParameters plain() {
  PumpParameters p;
  p.u_oc_v = 12;
  p.r_int_ohm = 0;
  p.r_feed_ohm = {0, 0};
  p.r_return_ohm = 0;
  p.r_ohm = 0.8;
  p.l_h = 0.6e-3;
  p.k_vs = 0.02;
  p.j_kgm2 = 4e-6;
  p.friction_nm = 0;
  p.viscous_nms = 0;
  p.displacement_m3 = 0;
  p.ripple = 0;
  p.cutoff = false;
  return p;
}

// Stall current u / R.
TEST(PumpModel, StallCurrent) {
  PumpParameters p = plain();
  p.seized = true;
  p.r_feed_ohm[0] = 0.2;
  PumpModel model(p);
  model.feed(0, true);
  model.advance(0.2);
  EXPECT_NEAR(model.current_a(), 12.0, 1e-6);  // 12 V over 1.0 ohm
  EXPECT_NEAR(model.feed_v(0), 12 - 0.2 * 12, 1e-6);
  EXPECT_EQ(model.speed_rad_s(), 0);
}

// No-load speed u / k = 600 rad/s = 5729.578 rev/min.
TEST(PumpModel, NoLoadSpeed) {
  PumpModel model(plain());
  model.feed(0, true);
  model.advance(1);
  EXPECT_NEAR(model.speed_rad_s() * 60 / (2 * std::numbers::pi), 5729.578, 0.001);
}

// Start from rest: i(t) = u / (L s) exp(-a t) sinh(s t); peak 12.609214 A at 2.035776 ms (derived
// from the PM-motor equations; the relation is that of the Modelica Standard Library's machine).
TEST(PumpModel, StartFromRest) {
  PumpModel model(plain());
  model.feed(0, true);
  double peak = 0, at_s = 0;
  const double a = 0.8 / 1.2e-3, s = std::sqrt(a * a - 4e-4 / (0.6e-3 * 4e-6));
  for (int k = 1; k <= 1000; ++k) {
    const double t = k * 1e-5;
    model.advance(t);
    EXPECT_NEAR(model.current_a(), 12 / (0.6e-3 * s) * std::exp(-a * t) * std::sinh(s * t), 1e-5);
    if (model.current_a() > peak) peak = model.current_a(), at_s = t;
  }
  EXPECT_NEAR(peak, 12.609214, 1e-4);
  EXPECT_NEAR(at_s, 2.035776e-3, 1e-5);
}

// A released motor coasts down on its friction: dw/dt = -T_f / J.
TEST(PumpModel, CoastsDownOnFriction) {
  PumpParameters p = plain();
  p.friction_nm = 0.004;
  PumpModel model(p);
  model.set_speed_rad_s(400);
  model.advance(0.1);
  EXPECT_NEAR(model.speed_rad_s(), 400 - 0.004 / 4e-6 * 0.1, 1e-6);
  EXPECT_NEAR(model.feed_v(0), 0.02 * model.speed_rad_s(), 1e-9);  // its back-EMF at the contact
}

// Viscous leak: p = p0 exp(-t / tau).
TEST(PumpModel, ViscousLeak) {
  PumpParameters p = plain();
  p.tau_leak_pressure_s = 100;
  PumpModel model(p);
  model.set_line_kpa(40);
  model.advance(30);
  EXPECT_NEAR(model.line_kpa(), 40 * std::exp(-0.3), 1e-9);
  EXPECT_NEAR(model.leak_slope_kpa_s(), -0.4 * std::exp(-0.3), 1e-9);
}

// Laminar and ideal-hole leaks against exact isothermal decays (derived, tests/reference/data).
TEST(PumpModel, LaminarAndHoleLeaks) {
  PumpParameters p = plain();
  p.volume_m3 = 250e-6;
  p.temperature_k = 293.15;
  p.law = LeakLaw::kLaminar;
  // K = pi d^4 / (256 eta L): 0.1 mm, 10 mm, 1.813406e-5 Pa s.
  p.laminar_k = std::numbers::pi * 1e-16 / (256 * 1.813406e-5 * 0.01);
  PumpParameters hole = p;
  hole.law = LeakLaw::kHole;
  hole.hole_m2 = std::numbers::pi / 4 * 1e-8;
  struct Case {
    const char* file;
    const PumpParameters* parameters;
    double start_kpa;
    bool time_first;
  };
  for (const Case& c : {Case{"laminar_leak_pressure.csv", &p, 40, true},
                        Case{"laminar_leak_vacuum.csv", &p, -60, true},
                        Case{"orifice_leak_pressure.csv", &hole, 40, false},
                        Case{"orifice_leak_vacuum.csv", &hole, -60, false}}) {
    std::ifstream file(std::string(AIRLATCH_SOURCE_DIR "/tests/reference/data/") + c.file);
    ASSERT_TRUE(file) << c.file;
    std::string line;
    std::getline(file, line);
    PumpModel model(*c.parameters);
    model.set_line_kpa(c.start_kpa);
    int compared = 0;
    while (std::getline(file, line)) {
      std::istringstream cells(line);
      double first = 0, second = 0;
      char comma = 0;
      if (!(cells >> first >> comma >> second)) continue;
      const double t_s = c.time_first ? first : second, kpa = c.time_first ? second : first;
      model.advance(t_s);
      EXPECT_NEAR(model.line_kpa(), kpa, 2e-4) << c.file << " " << t_s;
      ++compared;
    }
    EXPECT_GT(compared, 10);
  }
}

// Trapped air that is warmer than ambient: p ~ T at constant volume (OpenStax College Physics,
// example 13.6: 7.00e5 Pa at 18 degC is 7.41e5 Pa at 35 degC), and it cools exponentially.
TEST(PumpModel, WarmAirFallsBackToItsPlateau) {
  PumpParameters p = plain();
  p.ambient_kpa = 0.001;
  p.temperature_k = 291.15;
  p.tau_thermal_s = 1.5;
  PumpModel model(p);
  model.set_line_kpa(700);
  model.set_excess_k(17);
  EXPECT_NEAR(model.line_kpa(), 740.9, 0.05);
  model.advance(1.5);
  EXPECT_NEAR(model.line_kpa() - 700, 700 * 17 / 291.15 * std::exp(-1), 1e-3);
  model.advance(60);
  EXPECT_NEAR(model.line_kpa(), 700, 1e-3);
}

// The trade's changeover: run to the limit on A, A is dead until B has run to its limit.
TEST(PumpModel, Changeover) {
  PumpParameters p;
  PumpModel model(p);
  const auto try_contact = [&](int contact) {
    model.feed(contact, true);
    bool ran = false;
    const double until_s = model.time_s() + 6;
    while (model.time_s() < until_s && !model.cut_off()) {
      model.advance(model.time_s() + 0.01);
      ran = ran || model.current_a() > 0.1;
    }
    const bool cut = model.cut_off();
    model.feed(contact, false);
    model.advance(model.time_s() + 1);
    return std::pair(ran, cut);
  };
  EXPECT_EQ(try_contact(0), std::pair(true, true));
  EXPECT_GT(model.line_kpa(), 30);
  EXPECT_FALSE(try_contact(0).first);  // dead
  EXPECT_EQ(try_contact(1), std::pair(true, true));
  EXPECT_LT(model.line_kpa(), -30);
  EXPECT_EQ(try_contact(0), std::pair(true, true));
}

}  // namespace
}  // namespace airlatch
