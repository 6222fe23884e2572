// SPDX-License-Identifier: GPL-3.0-or-later
// JCGM 100:2008, Guide to the expression of uncertainty in measurement: worked example H.3 and the
// rules of 4.3.7, 5.1.2 and 7.2.6.
#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <sstream>
#include <string>

#include "decoders/method/regression.hpp"
#include "decoders/method/uncertainty.hpp"
#include "plugin/session/quantity.hpp"

namespace airlatch {
namespace {

LineAccumulator example_h3() {
  std::ifstream file(AIRLATCH_SOURCE_DIR "/tests/reference/data/gum_h3.csv");
  std::string line;
  std::getline(file, line);
  LineAccumulator fit;
  while (std::getline(file, line)) {
    std::istringstream cells(line);
    double number = 0, temperature = 0, correction = 0;
    char comma = 0;
    if (cells >> number >> comma >> temperature >> comma >> correction)
      fit.add(temperature - 20, correction);  // b(t) = y1 + y2 (t - t0), t0 = 20 degC
  }
  return fit;
}

// H.3.3: y1 = -0.1712 (0.0029) degC, y2 = 0.00218 (0.00067), r = -0.930, s = 0.0035 degC.
TEST(Gum, CalibrationLineH3) {
  const LineAccumulator fit = example_h3();
  ASSERT_EQ(fit.n(), 11);
  EXPECT_NEAR(fit.intercept(), -0.1712, 0.00005);
  EXPECT_NEAR(fit.slope(), 0.00218, 0.000005);
  EXPECT_NEAR(fit.u_intercept(), 0.0029, 0.00005);
  EXPECT_NEAR(fit.u_slope(), 0.00067, 0.000005);
  EXPECT_NEAR(fit.correlation(), -0.930, 0.0005);
  EXPECT_NEAR(fit.residual_sd(), 0.0035, 0.00005);
}

// H.3.4: prediction at 30 degC -0.1494 with u 0.0041, correlation counted.
TEST(Gum, PredictionWithCorrelationH3) {
  const LineAccumulator fit = example_h3();
  const double dt = 10;
  EXPECT_NEAR(fit.intercept() + dt * fit.slope(), -0.1494, 0.00005);
  const double u2 = std::pow(fit.u_intercept(), 2) + std::pow(dt * fit.u_slope(), 2) +
                    2 * dt * fit.u_intercept() * fit.u_slope() * fit.correlation();
  EXPECT_NEAR(std::sqrt(u2), 0.0041, 0.00005);
}

// 7.2.6: "10,057 62 ohm with u = 27 mohm is rounded to 10,058 ohm"; 28,05 is rounded to 28 kHz.
TEST(Gum, Rounding) {
  EXPECT_EQ(format_value(10.05762, 0.027), "10.058");
  EXPECT_EQ(format_u(0.027), "0.027");
  EXPECT_EQ(format_u(28.05), "28");
  EXPECT_EQ(format_quantity(10.05762, 0.027, "Ω"), "10.058 ± 0.027 Ω");
}

// 4.3.7, value from memory: a rectangular distribution of half-width 0.3 has u = 0.173205.
TEST(Gum, RectangularDistribution) { EXPECT_NEAR(u_of_width(0.6), 0.173205, 5e-7); }

// 5.1.2, product rule on V = 250(10) ml and dp/dt = 33.333(0.5) Pa/s: u = 4.2720 % (derived).
TEST(Gum, ProductRule) { EXPECT_NEAR(combine(10.0 / 250, 0.5 / 33.333), 0.042720, 5e-7); }

}  // namespace
}  // namespace airlatch
