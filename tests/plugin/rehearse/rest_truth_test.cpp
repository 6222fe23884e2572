// SPDX-License-Identifier: GPL-3.0-or-later
// Truth of rests against p(t) = p0 exp(-t / tau).
#include "plugin/rehearse/rest_truth.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "plugin/rehearse/true_event.hpp"
#include "tests/support/decode.hpp"

namespace airlatch {
namespace {
using namespace test;

Event stop_at(double t_s, double end_kpa) {
  Event event = true_event(Kind::STALL_CUTOFF, t_s, end_kpa > 0 ? 0 : 1, false);
  add_measure(event, "end_pressure", {end_kpa, 0}, "kPa");
  return event;
}

Event start_at(double t_s) { return true_event(Kind::MOTOR_START, t_s, 0, false); }

// Coasts for 20 ms after the stop; `isothermal_kpa` is the line without its warmth.
Movement until(double stop_s, double isothermal_kpa) {
  Movement out;
  out.course = {{.t_s = stop_s - 2}, {.t_s = stop_s + 0.02, .isothermal_kpa = isothermal_kpa}};
  return out;
}

PumpParameters leaky() {
  PumpParameters p;
  p.tau_thermal_s = 1.5;
  p.tau_leak_pressure_s = 50;
  p.tau_leak_vacuum_s = 80;
  p.volume_m3 = 200e-6;
  return p;
}

TEST(RestTruth, FromTheStopToTheNextStartOrTheEnd) {
  const auto decays = decays_of({stop_at(3, 42), start_at(23), stop_at(26, -45)},
                                {until(3, 40), until(26, -44)}, leaky(), 40);
  ASSERT_EQ(decays.size(), 2U);
  EXPECT_EQ(decays[0].stop_s, 3);
  EXPECT_EQ(decays[0].window_s, 3 + 4 * 1.5);
  EXPECT_EQ(decays[0].end_s, 23);
  EXPECT_EQ(decays[0].tau_s, 50);
  EXPECT_EQ(decays[0].isothermal_kpa, 40);  // not the 42 kPa of the warm air
  EXPECT_EQ(decays[1].end_s, 40);
  EXPECT_EQ(decays[1].tau_s, 80);
  EXPECT_EQ(decays[1].isothermal_kpa, -44);
}

TEST(RestTruth, WindowOpensHalfwayInAShortRest) {
  const auto decays = decays_of({stop_at(3, 42), start_at(7)}, {until(3, 40)}, leaky(), 40);
  ASSERT_EQ(decays.size(), 1U);
  EXPECT_EQ(decays[0].window_s, 5);
}

TEST(RestTruth, NoneThatIsShortOrWithoutPressure) {
  EXPECT_TRUE(decays_of({stop_at(3, 42), start_at(5.99)}, {until(3, 40)}, leaky(), 40).empty());
  EXPECT_TRUE(decays_of({stop_at(3, 42)}, {until(3, 40)}, leaky(), 5.99).empty());
  EXPECT_TRUE(decays_of({stop_at(3, -2.9)}, {until(3, -2.9)}, leaky(), 40).empty());
  EXPECT_TRUE(decays_of({start_at(3)}, {}, leaky(), 40).empty());
}

TEST(RestTruth, DecayIsExponential) {
  const LineDecay decay{.stop_s = 10, .tau_s = 50, .isothermal_kpa = 40};
  EXPECT_NEAR(decay.pressure_kpa(10), 40, 1e-12);
  EXPECT_NEAR(decay.pressure_kpa(60), 40 * std::exp(-1), 1e-12);
  EXPECT_NEAR(decay.slope_kpa_s(60), -0.8 * std::exp(-1), 1e-12);
  const double h_s = 1e-3;
  EXPECT_NEAR((decay.pressure_kpa(30 + h_s) - decay.pressure_kpa(30 - h_s)) / (2 * h_s),
              decay.slope_kpa_s(30), 1e-9);
}

TEST(RestTruth, EventHasTheLeakAlone) {
  const LineDecay decay{
      .stop_s = 10, .window_s = 15, .end_s = 30, .tau_s = 50, .isothermal_kpa = -40};
  const auto events = truth_of_rests({decay}, leaky(), false);
  ASSERT_EQ(events.size(), 1U);
  EXPECT_EQ(events[0].time_s, 15);
  EXPECT_EQ(events[0].direction, Direction::VACUUM);
  const double p = -40 * std::exp(-0.1);
  EXPECT_EQ(measure(events[0], "duration"), 15);
  EXPECT_NEAR(measure(events[0], "start_pressure"), p, 1e-12);
  EXPECT_NEAR(measure(events[0], "slope"), -p / 50, 1e-12);
  EXPECT_NEAR(measure(events[0], "decay_rate"), -p / 50 * 60, 1e-12);
  EXPECT_EQ(measure(events[0], "time_constant"), 50);
  EXPECT_NEAR(measure(events[0], "leak_rate"), 200e-6 * -p * 1000 / 50, 1e-12);
  EXPECT_GT(measure(events[0], "leak_hole"), 0);
}

TEST(RestTruth, ATightLineHasNoTimeConstantAndNoHole) {
  const LineDecay decay{.stop_s = 10, .window_s = 15, .end_s = 30, .isothermal_kpa = 40};
  const Event event = truth_of_rests({decay}, leaky(), false).at(0);
  EXPECT_NEAR(measure(event, "start_pressure"), 40, 1e-9);
  EXPECT_EQ(measure(event, "leak_rate"), 0);
  EXPECT_EQ(find_measure(event, "time_constant"), nullptr);
  EXPECT_EQ(find_measure(event, "leak_hole"), nullptr);
}

}  // namespace
}  // namespace airlatch
