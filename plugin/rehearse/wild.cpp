// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/rehearse/wild.hpp"

#include <algorithm>

#include "decoders/method/air.hpp"
#include "decoders/method/elementary.hpp"

namespace airlatch {
namespace {

constexpr double kLeakGiven_kpa = 45;  // at which the laws of a leak let the same through

double log_uniform(Random& random, double low, double high) {
  return low * elementary::exp(random.uniform() * elementary::log(high / low));
}

// A leak that was given by its time constant, as flow through a narrow gap or through a hole.
void change_law(PumpParameters& p, Random& random) {
  const double draw = random.uniform();
  if (p.tau_leak_pressure_s <= 0 || p.tau_leak_vacuum_s <= 0 || draw < 1.0 / 3) return;
  const double tau_s = std::min(p.tau_leak_pressure_s, p.tau_leak_vacuum_s);
  const double pa = p.ambient_kpa * 1000, gauge = kLeakGiven_kpa * 1000;
  const double flow_pa_m3_s = gauge * p.volume_m3 / tau_s;
  if (draw < 2.0 / 3) {
    p.law = LeakLaw::kLaminar;
    p.laminar_k = flow_pa_m3_s / (gauge * (2 * pa + gauge));
  } else {
    p.law = LeakLaw::kHole;
    p.hole_m2 = flow_pa_m3_s / (kGasConstant_air * p.temperature_k *
                                orifice_mass_flow(1, pa + gauge, pa, p.temperature_k));
  }
}

// In kelvin-free units: all noise is a share of what the plain sensor has.
void make_noisy(Sensor& sensor, Random& random) {
  sensor.noise *= log_uniform(random, 0.3, 3);
  sensor.flicker = sensor.noise * random.uniform(0, 0.5);
  sensor.flicker_seed = random.bits();
  sensor.drift = 0.5 * sensor.u_abs * random.uniform();
  sensor.drift_hz = 1 / log_uniform(random, 60, 600);
  sensor.hum_phase = 6.28 * random.uniform();
}

}  // namespace

void make_wild(PumpParameters& p, Random& random) {
  p.tau_thermal_s = log_uniform(random, 0.25, 1);
  p.heat_share = random.uniform(0.1, 0.35);
  p.tau_thermal2_s = log_uniform(random, 1.2, 5);
  p.heat_share2 = random.uniform(0.05, 0.25);
  p.warming_k_s = random.uniform(-0.002, 0.002);
  p.give_per_kpa = random.uniform(0, 3e-4);
  if (!p.blocked) p.volume_m3 *= log_uniform(random, 0.5, 3);
  if (p.tau_leak_pressure_s <= 0 && p.tau_leak_vacuum_s <= 0)  // no line is quite tight
    p.tau_leak_pressure_s = p.tau_leak_vacuum_s = log_uniform(random, 400, 40'000);
  change_law(p, random);
  p.chatter_ohm = random.uniform(0, 0.15);
  p.chatter_s = random.uniform(0.01, 0.06);
  p.chatter_hz = {random.uniform(150, 600), random.uniform(20, 90)};
}

void make_wild(std::vector<Sensor>& sensors, std::int64_t rate_hz, Random& random) {
  const bool alternator = random.uniform() < 0.15;
  const double mains_hz = random.uniform() < 0.7 ? 50 : 60;
  const double hum_hz = alternator ? random.uniform(100, 900) : mains_hz;
  const double hum_v = alternator ? random.uniform(0.02, 0.06) : random.uniform(0, 0.008);
  const double hum_a = random.uniform(0, 0.015);
  const double period_s = 1 / static_cast<double>(rate_hz);
  const double average_s = rate_hz > 20 ? 0 : std::min(0.4, period_s * random.uniform(0.5, 1));
  const bool average_stated = random.uniform() < 0.5;
  for (Sensor& sensor : sensors) {
    make_noisy(sensor, random);
    sensor.average_s = average_s;
    sensor.average_stated = average_stated;
    const bool pressure =
        sensor.role == Role::LINE_PRESSURE || sensor.role == Role::BRANCH_PRESSURE;
    if (pressure) {
      sensor.lag_s = random.uniform(0, 0.004);
      sensor.lag_stated_s = sensor.lag_s * (1 + kLagKnown * random.normal());
    } else {
      sensor.hum = sensor.role == Role::MOTOR_CURRENT ? hum_a : hum_v;
      sensor.hum_hz = hum_hz;
    }
  }
}

}  // namespace airlatch
