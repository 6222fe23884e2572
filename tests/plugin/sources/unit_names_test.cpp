// SPDX-License-Identifier: GPL-3.0-or-later
// Units against NIST SP 811 (2008), Appendix B.8, and the SI brochure; how people write them.
#include <gtest/gtest.h>

#include "plugin/sources/units.hpp"

namespace airlatch {
namespace {

TEST(Units, PressuresArePublishedOnes) {
  struct Published {
    const char* unit;
    double pascal;  // as printed there, to its last digit
  };
  for (const Published& p : {Published{"psi", 6.894757e3},
                             {"ksi", 6.894757e6},
                             {"inHg", 3.386389e3},
                             {"mmHg", 1.333224e2},
                             {"cmHg", 1.333224e3},
                             {"Torr", 1.333224e2},
                             {"atm", 1.01325e5},
                             {"at", 9.80665e4},
                             {"kgf/cm2", 9.80665e4},
                             {"inH2O", 2.490889e2},
                             {"ftH2O", 2.989067e3},
                             {"cmH2O", 9.80665e1},
                             {"mmH2O", 9.80665},
                             {"bar", 1e5},
                             {"mbar", 1e2},
                             {"dyn/cm2", 1e-1},
                             {"kgf/m2", 9.80665}}) {
    const auto unit = parse_unit(p.unit);
    ASSERT_TRUE(unit) << p.unit;
    EXPECT_EQ(unit->dimension, Dimension::kPressure) << p.unit;
    EXPECT_NEAR(unit->scale * 1000 / p.pascal, 1, 5e-7)  // seven digits are printed
        << p.unit;
  }
}

TEST(Units, SpellingsOfOneUnit) {
  const std::vector<std::vector<const char*>> same = {
      {"inHg", "in.Hg", "in Hg", "\"Hg", "inhg"},
      {"kgf/cm2", "kgf/cm\u00b2", "kg/cm2", "kp/cm\u00b2", "kg/cm^2", "at"},
      {"inH2O", "in H2O", "inH\u2082O", "inWC", "\"WC", "inwg"},
      {"mmH2O", "mmWS", "mm H2O", "mmWC"},
      {"mWS", "mH2O"},
      {"psi", "psig", "PSI", "lbf/in2"},
      {"bar", "barg", "bar(g)", "bar rel", "Bar"},
      {"kPa", "KPA", "kpa", "kPa gauge"},
      {"MPa", "MPA"},
      {"\u00b0C", "degC", "C", "deg C", "Celsius", "\u00baC"},
      {"\u00b5V", "uV", "\u03bcV"},
      {"V", "Volt", "volts", "V DC", "VDC", "V DC AUTO"},
      {"mA", "milliamps", "mA AC"}};
  for (const auto& names : same)
    for (const char* const name : names) {
      const auto first = parse_unit(names[0]), unit = parse_unit(name);
      ASSERT_TRUE(first && unit) << name;
      EXPECT_EQ(unit->dimension, first->dimension) << name;
      EXPECT_DOUBLE_EQ(unit->scale, first->scale) << name;
      EXPECT_FALSE(unit->absolute) << name;
    }
  EXPECT_NE(parse_unit("mPa")->scale, parse_unit("MPa")->scale);
}

TEST(Units, AbsoluteOnesSaySo) {
  for (const char* const name :
       {"psia", "bara", "bar(a)", "kPa abs", "hPa(abs)", "mbar absolute"}) {
    const auto unit = parse_unit(name);
    ASSERT_TRUE(unit) << name;
    EXPECT_TRUE(unit->absolute) << name;
  }
}

TEST(Units, TemperaturesHaveTheirZero) {
  const auto fahrenheit = parse_unit("\u00b0F"), kelvin = parse_unit("K");
  EXPECT_NEAR(fahrenheit->scale * 212 + fahrenheit->offset, 100, 1e-9);
  EXPECT_NEAR(fahrenheit->scale * 32 + fahrenheit->offset, 0, 1e-9);
  EXPECT_NEAR(kelvin->scale * 273.15 + kelvin->offset, 0, 1e-9);
}

TEST(Units, OthersAreKnownToBeNone) {
  for (const char* const name :
       {"ohm", "\u03a9", "k\u2126", "%RH", "rpm", "Hz", "l/min", "logic", "W"}) {
    EXPECT_TRUE(is_other_unit(name)) << name;
    EXPECT_FALSE(parse_unit(name)) << name;
  }
  for (const char* const name : {"furlong", "inHx", "psx", "outside"}) {
    EXPECT_FALSE(is_other_unit(name)) << name;
    EXPECT_FALSE(parse_unit(name)) << name;
  }
}

}  // namespace
}  // namespace airlatch
