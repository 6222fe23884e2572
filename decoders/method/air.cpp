// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/method/air.hpp"

#include <cmath>
#include <numbers>

#include "decoders/method/elementary.hpp"

namespace airlatch {

double critical_pressure_ratio(double kappa) {
  return elementary::pow(2 / (kappa + 1), kappa / (kappa - 1));
}

double orifice_mass_flow(double area_m2, double p1_pa, double p2_pa, double temperature_k) {
  if (p2_pa >= p1_pa) return 0;
  const auto outflow = [](double ratio) {
    return elementary::pow(ratio, 2 / kKappa) - elementary::pow(ratio, (kKappa + 1) / kKappa);
  };
  static const double critical = critical_pressure_ratio(), choked = outflow(critical);
  const double ratio = p2_pa / p1_pa;
  return area_m2 * p1_pa *
         std::sqrt(2 * kKappa / (kKappa - 1) / (kGasConstant_air * temperature_k) *
                   (ratio > critical ? outflow(ratio) : choked));
}

double iso6358_mass_flow(double conductance, double b, double p1_pa, double p2_pa,
                         double temperature_k) {
  constexpr double kReferenceDensity = 1.185, kReferenceTemperature_k = 293.15;
  const double choked =
      conductance * kReferenceDensity * p1_pa * std::sqrt(kReferenceTemperature_k / temperature_k);
  const double ratio = p2_pa / p1_pa;
  if (ratio <= b) return choked;
  if (ratio >= 1) return 0;
  return choked * std::sqrt(1 - elementary::square((ratio - b) / (1 - b)));
}

double leak_hole_mm(double q_pa_m3_s, double gauge_kpa, double temperature_k, double discharge) {
  const double inside_pa = kAtmosphere_pa + 1000 * gauge_kpa;
  const double from_pa = std::fmax(inside_pa, kAtmosphere_pa);
  const double to_pa = std::fmin(inside_pa, kAtmosphere_pa);
  const double per_area = orifice_mass_flow(discharge, from_pa, to_pa, temperature_k);
  if (!(per_area > 0) || !(q_pa_m3_s > 0)) return 0;
  const double mass_flow = q_pa_m3_s / (kGasConstant_air * temperature_k);
  return 1000 * std::sqrt(4 / std::numbers::pi * mass_flow / per_area);
}

double pa_m3_s_to_mbar_l_s(double q) { return 10 * q; }

double pa_m3_s_to_sccm(double q) { return q / kAtmosphere_pa * 1e6 * 60; }

}  // namespace airlatch
