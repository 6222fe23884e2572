// SPDX-License-Identifier: GPL-3.0-or-later
// The oracle is the system's library in long double, which has 11 bits more or 60.
#include "decoders/method/elementary.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

#include "plugin/rehearse/random.hpp"

namespace airlatch {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

// Units in the last place of the true value.
double units_off(double value, long double truth) {
  const double near = std::abs(static_cast<double>(truth));
  const double unit = std::nextafter(near, kInfinity) - near;
  return static_cast<double>(std::abs(static_cast<long double>(value) - truth) /
                             static_cast<long double>(unit));
}

template <typename Ours, typename Truth>
void within_units(double most, double low, double high, Ours&& ours, Truth&& truth) {
  Random random(7);
  double worst = 0, where = 0;
  for (int k = 0; k < 200'000; ++k) {
    const double x = random.uniform(low, high);
    const double off = units_off(ours(x), truth(static_cast<long double>(x)));
    if (!(off <= worst)) worst = off, where = x;
  }
  EXPECT_LT(worst, most) << "at " << where;
}

TEST(Elementary, Exp) {
  const auto truth = [](long double x) { return std::exp(x); };
  for (const double most : {1e-3, 0.5, 1.0, 20.0, 708.0})
    within_units(1, -most, most, elementary::exp, truth);
  within_units(1, -745, -708, elementary::exp, truth);  // too small to be normal
  EXPECT_EQ(elementary::exp(0), 1);
  EXPECT_EQ(elementary::exp(710), kInfinity);
  EXPECT_EQ(elementary::exp(kInfinity), kInfinity);
  EXPECT_EQ(elementary::exp(-746), 0);
  EXPECT_EQ(elementary::exp(-kInfinity), 0);
  EXPECT_TRUE(std::isnan(elementary::exp(NAN)));
}

TEST(Elementary, Log) {
  const auto truth = [](long double x) { return std::log(x); };
  within_units(1, 0, 1, elementary::log, truth);
  within_units(1, 0.9, 1.1, elementary::log, truth);
  within_units(1, 0, 1e6, elementary::log, truth);
  within_units(1, 0, 1e308, elementary::log, truth);
  within_units(1, 0, 1e-308, elementary::log, truth);
  EXPECT_EQ(elementary::log(1), 0);
  EXPECT_EQ(elementary::log(0), -kInfinity);
  EXPECT_EQ(elementary::log(kInfinity), kInfinity);
  EXPECT_TRUE(std::isnan(elementary::log(-1)));
  EXPECT_TRUE(std::isnan(elementary::log(-kInfinity)));
  EXPECT_TRUE(std::isnan(elementary::log(NAN)));
}

TEST(Elementary, Pow) {
  for (const double y : {1.4, 0.7, 2.0, -1.5})
    within_units(
        6, 0.1, 1, [y](double x) { return elementary::pow(x, y); },
        [y](long double x) { return std::pow(x, static_cast<long double>(y)); });
}

TEST(Elementary, SinAndCos) {
  const auto sine = [](long double x) { return std::sin(x); };
  const auto cosine = [](long double x) { return std::cos(x); };
  for (const double most : {1e-3, 1.0, 7.0, 1e4, 1e8}) {
    within_units(1, -most, most, elementary::sin, sine);
    within_units(1, -most, most, elementary::cos, cosine);
  }
  EXPECT_EQ(elementary::sin(0), 0);
  EXPECT_EQ(elementary::cos(0), 1);
  EXPECT_LE(std::abs(elementary::sin(1e300)), 1);
  for (const double none : {kInfinity, -kInfinity, static_cast<double>(NAN)}) {
    EXPECT_TRUE(std::isnan(elementary::sin(none)));
    EXPECT_TRUE(std::isnan(elementary::cos(none)));
  }
}

}  // namespace
}  // namespace airlatch
