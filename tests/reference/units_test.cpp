// SPDX-License-Identifier: GPL-3.0-or-later
// Units by their exact definitions (SI brochure; NIST SP 811, appendix B) and as published tables
// print them.
#include "plugin/sources/units.hpp"

#include <gtest/gtest.h>

#include "decoders/method/air.hpp"

namespace airlatch {
namespace {

double scale(const char* text) {
  const auto unit = parse_unit(text);
  EXPECT_TRUE(unit.has_value()) << text;
  return unit ? unit->scale : 0;
}

TEST(Units, PressureToKilopascal) {
  EXPECT_DOUBLE_EQ(scale("kPa"), 1);
  EXPECT_DOUBLE_EQ(scale("Pa"), 0.001);
  EXPECT_DOUBLE_EQ(scale("hPa"), 0.1);
  EXPECT_DOUBLE_EQ(scale("bar"), 100);
  EXPECT_DOUBLE_EQ(scale("mbar"), 0.1);
  EXPECT_DOUBLE_EQ(scale("MPa"), 1000);
  // 0.453 592 37 kg x 9.806 65 m/s2 / (0.0254 m)2 = 6894.757293 Pa.
  EXPECT_NEAR(scale("psi"), 6.894757293, 5e-10);
  // 13 595.1 kg/m3 x 9.806 65 m/s2: 133.322387 Pa a millimetre, 3386.38864 Pa an inch.
  EXPECT_NEAR(scale("mmHg"), 0.133322387, 5e-10);
  EXPECT_NEAR(scale("inHg"), 3.38638864, 5e-9);
}

TEST(Units, PrefixesTellMilliFromMega) {
  EXPECT_DOUBLE_EQ(scale("mA"), 1e-3);
  EXPECT_DOUBLE_EQ(scale("A"), 1);
  EXPECT_DOUBLE_EQ(scale("mV"), 1e-3);
  EXPECT_DOUBLE_EQ(scale("kV"), 1e3);
  EXPECT_NEAR(scale("µA"), 1e-6, 1e-18);
  EXPECT_NEAR(scale("uA"), 1e-6, 1e-18);
  EXPECT_FALSE(parse_unit("furlong").has_value());
}

TEST(Units, Temperature) {
  const auto kelvin = parse_unit("K");
  ASSERT_TRUE(kelvin);
  EXPECT_NEAR(kelvin->scale * 293.15 + kelvin->offset, 20, 1e-9);  // 0 degC = 273.15 K
  const auto celsius = parse_unit("°C");
  ASSERT_TRUE(celsius);
  EXPECT_DOUBLE_EQ(celsius->scale * 20 + celsius->offset, 20);
}

// 1 mbar l/s = 0.1 Pa m3/s exactly; 1 sccm (0 degC, 101 325 Pa) = 1.68875e-3 Pa m3/s exactly, so
// 1 Pa m3/s = 592.1540 sccm.
TEST(Units, LeakRates) {
  EXPECT_DOUBLE_EQ(pa_m3_s_to_mbar_l_s(0.1), 1);
  EXPECT_NEAR(pa_m3_s_to_sccm(1.68875e-3), 1, 1e-12);
  EXPECT_NEAR(pa_m3_s_to_sccm(1), 592.1540, 5e-5);
  // A small linear decay, 2 kPa of 250 ml in 60 s: 8.33333e-3 Pa m3/s = 0.0833333 mbar l/s =
  // 4.93462 sccm (derived).
  const double q = 250e-6 * 2000 / 60;
  EXPECT_NEAR(pa_m3_s_to_mbar_l_s(q), 0.0833333, 5e-8);
  EXPECT_NEAR(pa_m3_s_to_sccm(q), 4.93462, 5e-6);
  // An exponential decay, 40 kPa and 100 s in 250 ml: 0.1 Pa m3/s = 59.2154 sccm (derived).
  EXPECT_NEAR(pa_m3_s_to_sccm(0.1), 59.2154, 5e-5);
}

}  // namespace
}  // namespace airlatch
