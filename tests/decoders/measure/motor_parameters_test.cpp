// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/measure/motor_parameters.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "tests/support/decode.hpp"

namespace airlatch {
namespace {
using namespace test;

// A 12 V motor from rest, no load: 0.8 ohm, 0.6 mH, k 0.02 V s, J 4e-6 kg m2, so tau_m = J R / k^2
// = 8 ms; i(t) = u / (L s) exp(-a t) sinh(s t), closed form (derived from the machine equations of
// the Modelica Standard Library). No friction: the current dies away to nothing, so 0.4 A is added.
Waves start(std::int64_t rate_hz) {
  const double r = 0.8, l = 0.6e-3, k = 0.02, j = 4e-6, on_s = 1.00003;
  const double a = r / (2 * l), s = std::sqrt(a * a - k * k / (l * j));
  const auto i = [=](double t) { return 12 / (l * s) * std::exp(-a * t) * std::sinh(s * t); };
  Wave motor(rate_hz), feed(rate_hz), back(rate_hz);
  motor.hold(0, on_s).curve(i, on_s + 0.1).hold(1, 1.8).hold(0, 3);
  feed.hold(0, on_s).hold(12, 1.8).hold(0, 3);
  back.hold(0, 3);
  motor.noise(0.012, 1);
  feed.noise(0.006, 2);
  back.noise(0.006, 3);
  return {{Role::MOTOR_CURRENT, motor}, {Role::FEED_A_VOLTAGE, feed}, {Role::RETURN_VOLTAGE, back}};
}

TEST(MotorParameters, FromTheStartTransient) {
  for (const std::int64_t rate_hz : {10000, 50000}) {
    const auto stop = of_kind(decode(start(rate_hz)), Kind::MOTOR_STOP);
    ASSERT_EQ(stop.size(), 1U);
    EXPECT_NEAR(measure(stop[0], "motor_resistance"), 0.8, 0.01) << rate_hz;
    EXPECT_NEAR(measure(stop[0], "motor_inductance"), 0.6e-3, 0.02e-3) << rate_hz;
    EXPECT_NEAR(measure(stop[0], "mechanical_time_constant"), 8e-3, 0.2e-3) << rate_hz;
    EXPECT_EQ(find_measure(stop[0], "motor_constant"), nullptr);  // no shaft speed, no constant
  }
}

TEST(MotorParameters, TooSlowIsRefused) {
  const auto stop = of_kind(decode(start(2000)), Kind::MOTOR_STOP);
  ASSERT_EQ(stop.size(), 1U);
  EXPECT_EQ(find_measure(stop[0], "motor_resistance"), nullptr);
  EXPECT_EQ(missing(stop[0], "motor_resistance"), MissingCode::TOO_SLOW);
}

}  // namespace
}  // namespace airlatch
