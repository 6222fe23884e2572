// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/rehearse/scatter.hpp"

namespace airlatch {

PumpParameters scattered(PumpParameters p, Random& random) {
  const auto by = [&](double part) { return 1 + part * (2 * random.uniform() - 1); };
  p.u_oc_v *= by(0.02);
  p.r_int_ohm *= by(0.3);
  for (double& r : p.r_feed_ohm) r *= by(0.15);
  p.r_return_ohm *= by(0.15);
  p.r_ohm *= by(0.12);
  p.l_h *= by(0.2);
  p.k_vs *= by(0.08);
  p.j_kgm2 *= by(0.2);
  p.friction_nm *= by(0.15);
  p.displacement_m3 *= by(0.15);
  p.limit_pressure_kpa *= by(0.08);
  p.limit_vacuum_kpa *= by(0.08);
  p.volume_m3 *= by(0.1);
  p.tau_thermal_s *= by(0.4);
  if (p.tau_leak_pressure_s > 0) p.tau_leak_pressure_s *= by(0.3);
  if (p.tau_leak_vacuum_s > 0) p.tau_leak_vacuum_s *= by(0.3);
  return p;
}

}  // namespace airlatch
