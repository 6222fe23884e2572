// SPDX-License-Identifier: GPL-3.0-or-later
// Air through holes, against published tables, textbook examples and exact decays.
#include "decoders/method/air.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <numbers>
#include <sstream>
#include <string>
#include <vector>

#include "decoders/method/hole_decay.hpp"

namespace airlatch {
namespace {

std::vector<std::pair<double, double>> read_pairs(const std::string& name) {
  std::ifstream file(std::string(AIRLATCH_SOURCE_DIR "/tests/reference/data/") + name);
  EXPECT_TRUE(file) << name;
  std::string line;
  std::getline(file, line);
  std::vector<std::pair<double, double>> pairs;
  while (std::getline(file, line)) {
    std::istringstream cells(line);
    double a = 0, b = 0;
    char comma = 0;
    if (cells >> a >> comma >> b) pairs.emplace_back(a, b);
  }
  return pairs;
}

// (2/(kappa+1))^(kappa/(kappa-1)), kappa = 1.4: 0.528 in every handbook.
TEST(AirThroughHoles, CriticalRatio) {
  EXPECT_NEAR(critical_pressure_ratio(), 0.528281788, 5e-10);
  // Cengel and Cimbala, Fluid Mechanics, example 12-4: kappa 1.289, 1.4 MPa gives 766.8 kPa.
  EXPECT_NEAR(1400 * critical_pressure_ratio(1.289), 766.8129, 5e-4);
}

// A public course on compressible flow: 1 mm2 from 7 bar absolute at 20 degC passes 1.65e-3 kg/s,
// 20 mm2 from 3 bar 14.2 g/s; choking into 1.013 bar begins at 1.92 bar.
TEST(AirThroughHoles, ChokedFlow) {
  EXPECT_NEAR(orifice_mass_flow(1e-6, 7e5, 1.013e5, 293.15), 1.652313e-3, 5e-9);
  EXPECT_NEAR(orifice_mass_flow(20e-6, 3e5, 1.013e5, 293.15), 14.16269e-3, 5e-8);
  EXPECT_NEAR(1.013 / critical_pressure_ratio(), 1.917537, 5e-7);
  EXPECT_EQ(orifice_mass_flow(1e-6, 1e5, 1e5, 293.15), 0);
}

// Free air through round holes, table of a public compressed-air handbook, 1 ... 100 psi gauge,
// 1/64 ... 1/4 inch: the ideal nozzle at 70 degF within 0.6 % of every entry of 0.2 cfm and more
// (smaller entries are printed with fewer digits).
TEST(AirThroughHoles, HandbookTable) {
  std::ifstream file(AIRLATCH_SOURCE_DIR "/tests/reference/data/air_through_orifice.csv");
  std::string line;
  std::getline(file, line);
  int compared = 0;
  while (std::getline(file, line)) {
    std::istringstream cells(line);
    double gauge_psi = 0, over = 0, under = 0, cfm = 0;
    char mark = 0;
    ASSERT_TRUE(cells >> gauge_psi >> mark >> over >> mark >> under >> mark >> cfm) << line;
    if (cfm < 0.2) continue;
    const double diameter_m = over / under * 0.0254, temperature_k = 294.2611;  // 70 degF
    const double up_pa = kAtmosphere_pa + gauge_psi * 6894.757293;
    const double kg_s = orifice_mass_flow(std::numbers::pi / 4 * diameter_m * diameter_m, up_pa,
                                          kAtmosphere_pa, temperature_k);
    const double m3_s = kg_s * kGasConstant_air * temperature_k / kAtmosphere_pa;
    EXPECT_NEAR(m3_s / 0.028316846592 * 60 / cfm, 1, 0.006) << line;
    ++compared;
  }
  EXPECT_GE(compared, 55);
}

// ISO 6358, worked example of a public equation solver: C 1e-8 m3/(s Pa), b 0.35, 700 to 100 kPa at
// 293.15 K passes 0.008295 kg/s; to 500 kPa 0.00686988 kg/s (same formula).
TEST(AirThroughHoles, Iso6358) {
  EXPECT_NEAR(iso6358_mass_flow(1e-8, 0.35, 7e5, 1e5, 293.15), 0.008295, 5e-7);
  EXPECT_NEAR(iso6358_mass_flow(1e-8, 0.35, 7e5, 5e5, 293.15), 0.00686988, 5e-9);
}

// De Saint-Venant and Wantzel (derived): 0.1 Pa m3/s at 40 kPa gauge, 20 degC, is a hole of
// 0.0703121 mm (discharge 1) or 0.0907726 mm (0.6); at -60 kPa, choked, 0.0795378 mm.
TEST(AirThroughHoles, HoleOfALeak) {
  EXPECT_NEAR(leak_hole_mm(0.1, 40), 0.0703121, 5e-7);
  EXPECT_NEAR(leak_hole_mm(0.1, 40, 293.15, 0.6), 0.0907726, 5e-7);
  EXPECT_NEAR(leak_hole_mm(0.1, -60), 0.0795378, 5e-7);
  EXPECT_EQ(leak_hole_mm(0, 40), 0);
}

// Exact isothermal decays of 250 ml through an ideal hole of 0.1 mm, discharge 1, 20 degC
// (derived with 30 digits): the curve the leak decoder fits.
TEST(HoleDecay, FollowsTheExactDecays) {
  const double area_m2 = std::numbers::pi / 4 * 1e-8, volume_m3 = 250e-6;
  const double choked_kg_s = orifice_mass_flow(area_m2, kAtmosphere_pa, 0, 293.15);
  const double rate = choked_kg_s * kGasConstant_air * 293.15 / kAtmosphere_pa / volume_m3;
  const auto above = read_pairs("orifice_leak_pressure.csv");
  ASSERT_GT(above.size(), 10U);
  for (const auto& [kpa, t_s] : above)
    EXPECT_NEAR(HoleDecay::above_ambient().at(40, rate, t_s).gauge_kpa, kpa, 2e-5) << t_s;
  const auto below = read_pairs("orifice_leak_vacuum.csv");
  ASSERT_GT(below.size(), 10U);
  for (const auto& [kpa, t_s] : below)
    EXPECT_NEAR(HoleDecay::below_ambient().at(-60, rate, t_s).gauge_kpa, kpa, 2e-5) << t_s;
  // Start slopes, same source: -0.809095 kPa/s at 40 kPa, 0.632285 kPa/s while choked.
  EXPECT_NEAR(HoleDecay::above_ambient().slope_kpa_s(40, rate), -0.809095, 5e-7);
  EXPECT_NEAR(HoleDecay::below_ambient().slope_kpa_s(-60, rate), 0.632285, 5e-7);
  EXPECT_NEAR(HoleDecay::below_ambient().slope_kpa_s(-48, rate), 0.632285, 5e-7);
}

TEST(HoleDecay, DerivativesAreThoseOfTheCurve) {
  for (const double start : {35.0, -55.0}) {
    const HoleDecay& curve = start > 0 ? HoleDecay::above_ambient() : HoleDecay::below_ambient();
    for (const double t_s : {1.0, 10.0, 40.0}) {
      const auto at = curve.at(start, 0.006, t_s);
      const double h = 1e-4;
      EXPECT_NEAR(
          at.by_start,
          (curve.at(start + h, 0.006, t_s).gauge_kpa - curve.at(start - h, 0.006, t_s).gauge_kpa) /
              (2 * h),
          1e-4);
      EXPECT_NEAR(at.by_rate_s,
                  (curve.at(start, 0.006 + 1e-7, t_s).gauge_kpa -
                   curve.at(start, 0.006 - 1e-7, t_s).gauge_kpa) /
                      2e-7,
                  1e-3 * std::abs(at.by_rate_s));
    }
  }
  EXPECT_EQ(HoleDecay::above_ambient().at(10, 0.1, 1000).gauge_kpa, 0);  // empty stays empty
}

// The standard atmosphere (ICAO Doc 7488, US Standard Atmosphere 1976): our gas constant and kappa
// give its density and speed of sound from its temperature and pressure, to the printed digits.
TEST(StandardAtmosphere, DensityAndSound) {
  std::ifstream file(AIRLATCH_SOURCE_DIR "/tests/reference/data/standard_atmosphere.csv");
  std::string line;
  std::getline(file, line);
  int rows = 0;
  while (std::getline(file, line)) {
    std::istringstream cells(line);
    double altitude_m = 0, t_k = 0, p_pa = 0, rho = 0, sound = 0;
    char comma = 0;
    ASSERT_TRUE(cells >> altitude_m >> comma >> t_k >> comma >> p_pa >> comma >> rho >> comma >>
                sound);
    EXPECT_NEAR(p_pa / (kGasConstant_air * t_k), rho, 1e-5 * rho) << altitude_m;
    EXPECT_NEAR(std::sqrt(kKappa * kGasConstant_air * t_k), sound, 2e-3) << altitude_m;
    // At the throat of a choked ideal hole air moves at the speed of sound of its own, colder
    // state: mass flow = density there x speed there (isentropic relations of the same textbook).
    const double t_throat = t_k * 2 / (kKappa + 1);
    const double rho_throat = rho * std::pow(2 / (kKappa + 1), 1 / (kKappa - 1));
    EXPECT_NEAR(orifice_mass_flow(1e-6, p_pa, 0, t_k),
                1e-6 * rho_throat * std::sqrt(kKappa * kGasConstant_air * t_throat),
                3e-5 * orifice_mass_flow(1e-6, p_pa, 0, t_k))
        << altitude_m;
    ++rows;
  }
  EXPECT_GE(rows, 11);
}

}  // namespace
}  // namespace airlatch
