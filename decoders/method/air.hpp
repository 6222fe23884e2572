// SPDX-License-Identifier: GPL-3.0-or-later
// air.hpp: flow of air through small holes, and the units in which leaks are stated.
//
// How   ideal isentropic nozzle (de Saint-Venant and Wantzel), the ideal orifice of ISO 6358:
//       choked below the critical pressure ratio, subsonic above it. kappa = 1.4, R = 287.05287
//       J/(kg K) (US Standard Atmosphere 1976). Pressures absolute, Pa; temperatures K; areas m2.
#pragma once

namespace airlatch {

constexpr double kKappa = 1.4;
constexpr double kGasConstant_air = 287.05287;  // J/(kg K)
constexpr double kAtmosphere_pa = 101325;
constexpr double kStandardTemperature_k = 273.15;

// (2/(kappa+1))^(kappa/(kappa-1)) = 0.528...
double critical_pressure_ratio(double kappa = kKappa);
// kg/s from p1 to p2 < p1 through an ideal hole; 0 where p2 >= p1.
double orifice_mass_flow(double area_m2, double p1_pa, double p2_pa, double temperature_k);
// ISO 6358: kg/s for sonic conductance C (m3/(s Pa), reference air 1.185 kg/m3 at 293.15 K) and
// critical ratio b.
double iso6358_mass_flow(double conductance, double b, double p1_pa, double p2_pa,
                         double temperature_k);
// Diameter, mm, of the ideal hole through which a vessel at `gauge_kpa` loses (pressure) or takes
// in (vacuum) `q_pa_m3_s` = V dp/dt. `discharge` is the hole's discharge coefficient. 0 where the
// gauge pressure or the leak is 0.
double leak_hole_mm(double q_pa_m3_s, double gauge_kpa, double temperature_k = 293.15,
                    double discharge = 1.0);
double pa_m3_s_to_mbar_l_s(double q);
// Standard cubic centimetres a minute at 0 degC, 101 325 Pa, counted as pV.
double pa_m3_s_to_sccm(double q);

}  // namespace airlatch
