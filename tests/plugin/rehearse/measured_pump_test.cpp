// SPDX-License-Identifier: GPL-3.0-or-later
// Samples fall where the clock has them, and a movement is kept from rest to rest.
#include "plugin/rehearse/measured_pump.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace airlatch {
namespace {

Sensor exact(Role role) {
  return {.name = "x", .role = role, .range_min = -1000, .range_max = 1000};
}

MeasuredPump pump_at(std::int64_t rate_hz, const PumpParameters& p, Role role) {
  return {p, SampleClock::of_rate(rate_hz), {exact(role)}, 0, Random(1)};
}

PumpParameters seized() {
  PumpParameters p;
  p.seized = true;
  p.ripple = 0;
  return p;
}

TEST(MeasuredPump, SamplesAreTheClocks) {
  MeasuredPump pump = pump_at(10, {}, Role::LINE_PRESSURE);
  pump.run_to(0.95);  // 0, 0.1 ... 0.9 s
  EXPECT_NEAR(pump.end_s(), 1.0, 1e-12);
  EXPECT_EQ(pump.take_channels().at(0).values.size(), 10U);
}

// A locked rotor: i(t) = u / R (1 - exp(-R t / L)), switched on between two samples.
TEST(MeasuredPump, SamplesShowTheInstantTheyAreTakenAt) {
  const PumpParameters p = seized();
  MeasuredPump pump = pump_at(1000, p, Role::MOTOR_CURRENT);
  pump.run_to(0.0105);
  pump.model().feed(0, true);
  pump.record();
  pump.run_to(0.0155);
  const auto values = pump.take_channels().at(0).values;
  ASSERT_EQ(values.size(), 16U);
  const double r = p.r_int_ohm + p.r_feed_ohm[0] + p.r_return_ohm + p.r_ohm;
  for (std::size_t k = 0; k < values.size(); ++k) {
    const double fed_s = std::max(0.0, 0.001 * static_cast<double>(k) - 0.0105);
    EXPECT_NEAR(values[k], p.u_oc_v / r * (1 - std::exp(-r / p.l_h * fed_s)), 1e-5) << k;
  }
}

TEST(MeasuredPump, CommandLineIsTheSourceOrNothing) {
  MeasuredPump pump = pump_at(10, {}, Role::COMMAND_LEVEL);
  pump.run_to(0.25);
  pump.set_command(true);
  pump.run_to(0.35);
  EXPECT_EQ(pump.take_channels().at(0).values, (std::vector<float>{0, 0, 0, 12.4F}));
}

TEST(MeasuredPump, CourseIsFineAndBeginsAtRest) {
  MeasuredPump pump = pump_at(4, seized(), Role::MOTOR_CURRENT);  // a slow meter changes nothing
  pump.run_to(0.1);
  EXPECT_FALSE(pump.in_movement());
  pump.model().feed(1, true);
  pump.record();
  EXPECT_TRUE(pump.in_movement());
  pump.run_to(0.2);
  pump.model().feed(1, false);
  pump.run_to(0.21);  // the clamp ends the current within a millisecond
  pump.end_movement(true, 0.1, false);
  EXPECT_FALSE(pump.in_movement());
  ASSERT_EQ(pump.movements().size(), 1U);
  const Movement& movement = pump.movements()[0];
  EXPECT_EQ(movement.contact, 1);
  EXPECT_TRUE(movement.by_feed);
  const Course& course = movement.course;
  EXPECT_EQ(course[0].i_a, 0);
  EXPECT_EQ(course[0].supply_v, 12.4);
  EXPECT_NEAR(course[0].t_s, 0.1 - MeasuredPump::kFine_s, 1e-12);
  for (std::size_t k = 1; k < course.size() && course[k].t_s < 0.2; ++k)
    EXPECT_LT(course[k].t_s - course[k - 1].t_s, MeasuredPump::kFine_s * 1.001) << k;
  EXPECT_EQ(course.back().i_a, 0);
}

}  // namespace
}  // namespace airlatch
