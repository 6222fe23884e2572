// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/rehearse/sensors.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "decoders/method/elementary.hpp"

namespace airlatch {
namespace {

constexpr double kGain = 0.002;  // relative standard uncertainty of every sensor
constexpr double kVolt_v = 0.01, kCurrent_a = 0.03, kLine_kpa = 0.1;  // standard uncertainties
constexpr double kUsualClip_a = 20;

Sensor sensor(const char* name, Role role, double noise, double range_min, double range_max,
              double u_abs, Random& random) {
  return {.name = name,
          .role = role,
          .noise = noise,
          .range_min = range_min,
          .range_max = range_max,
          .u_abs = u_abs,
          .offset = u_abs * random.normal()};
}

}  // namespace

std::vector<Sensor> sensors_of(const RehearseOptions& options, const Script& script,
                               Random& random) {
  const double volt_v = options.noise * options.volt_noise_v;
  const double motor_a = options.noise * options.motor_noise_a;
  const double line_kpa = options.noise * options.line_noise_kpa;
  const double clip_a = script.clip_current_a > 0 ? script.clip_current_a : kUsualClip_a;
  std::vector<Sensor> sensors = {
      sensor("supply_v", Role::SUPPLY_VOLTAGE, volt_v, -2, 20, kVolt_v, random),
      sensor("feed_a_v", Role::FEED_A_VOLTAGE, volt_v, -2, 20, kVolt_v, random),
      sensor("feed_b_v", Role::FEED_B_VOLTAGE, volt_v, -2, 20, kVolt_v, random),
      sensor("return_v", Role::RETURN_VOLTAGE, volt_v, -5, 15, kVolt_v, random),
      sensor("motor_a", Role::MOTOR_CURRENT, motor_a, -clip_a, clip_a, kCurrent_a, random),
      sensor("line_kpa", Role::LINE_PRESSURE, line_kpa, -100, 100, kLine_kpa, random)};
  if (script.branch_gauge)
    sensors.push_back(
        sensor("branch_kpa", Role::BRANCH_PRESSURE, line_kpa, -100, 100, kLine_kpa, random));
  if (script.command) {  // its contacts are out of reach
    sensors.erase(sensors.begin() + 1, sensors.begin() + 3);
    sensors.push_back({.name = "command",
                       .role = Role::COMMAND_LEVEL,
                       .noise = volt_v,
                       .range_min = -2,
                       .range_max = 20,
                       .u_abs = kVolt_v});
  }
  for (Sensor& each : sensors) each.gain = 1 + kGain * random.normal();
  return sensors;
}

Rig rig_of(const std::vector<Sensor>& sensors, const PumpParameters& p, Random& random) {
  Rig rig;
  for (const Sensor& each : sensors) {
    auto& entry = rig.channel.emplace_back();
    entry.source = each.name;
    entry.role = each.role;
    entry.range_min = each.range_min;
    entry.range_max = each.range_max;
    entry.u_rel = kGain;
    entry.u_abs = each.u_abs;
    entry.lag_s = std::max(0.0, each.lag_stated_s);
    entry.lag_u_s = kLagKnown * entry.lag_s;
    if (each.average_stated) entry.average_s = each.average_s;
  }
  rig.name = "rehearsal, invented: Saltmarsh Garage";
  rig.contact_a_direction = Direction::UNKNOWN;
  // As a technician knows it: measured to 2 %, written down in whole millilitres.
  rig.line_volume_ml = std::round(p.volume_m3 * 1e6 * (1 + 0.02 * random.normal()));
  rig.swept_volume_ml = 0;  // its line has no actuators
  rig.line_volume_u_ml = std::round(0.2 * p.volume_m3 * 1e6) / 10;
  rig.commutator_segments = static_cast<std::uint32_t>(p.ripples_per_turn);
  return rig;
}

double quantity(Role role, const PumpModel& model, double command_v) {
  switch (role) {
    case Role::SUPPLY_VOLTAGE:
    case Role::FUSE_VOLTAGE:
      return model.supply_v();
    case Role::FEED_A_VOLTAGE:
      return model.feed_v(0);
    case Role::FEED_B_VOLTAGE:
      return model.feed_v(1);
    case Role::RETURN_VOLTAGE:
      return model.return_v();
    case Role::MOTOR_CURRENT:
      return model.current_a();
    case Role::COMMAND_LEVEL:
      return command_v;
    case Role::BRANCH_PRESSURE:
      return model.parameters().blocked ? 0 : model.line_kpa();
    case Role::LINE_PRESSURE:
    case Role::AIR_TEMPERATURE:
    case Role::UNSPECIFIED:
      break;
  }
  return model.line_kpa();
}

float reading(const Sensor& sensor, double quantity, int bits, Random& noise) {
  double v = quantity * sensor.gain + sensor.offset + sensor.noise * noise.normal();
  if (bits > 0) {
    const double step = (sensor.range_max - sensor.range_min) * std::ldexp(1.0, -bits);
    v = sensor.range_min + step * std::round((v - sensor.range_min) / step);
  }
  return static_cast<float>(std::clamp(v, sensor.range_min, sensor.range_max));
}

// A sum of relaxations whose rates are a factor of four apart has a spectrum near 1/f (van der Ziel,
// Physica 16, 1950).
Instrument::Instrument(const Sensor& sensor, double period_s)
    : sensor_(sensor), own_(sensor.flicker_seed) {
  if (sensor.flicker <= 0) return;
  constexpr double kSlowest_s = 200;
  for (double tau_s = 2 * period_s; tau_s < kSlowest_s; tau_s *= 4)
    relaxations_.push_back({elementary::exp(-period_s / tau_s), sensor.flicker * own_.normal()});
}

double Instrument::flicker() {
  double sum = 0;
  for (Relaxation& each : relaxations_) {
    each.value = each.keeps * each.value +
                 std::sqrt(1 - each.keeps * each.keeps) * sensor_.flicker * own_.normal();
    sum += each.value;
  }
  return sum;
}

void Instrument::see(double t_s, double quantity) {
  const double dt = t_s - seen_s_, before = shown_;
  if (!seen_) {
    shown_ = quantity;
  } else if (dt > 0 && sensor_.lag_s > 0) {
    // First order, for an input that goes straight from one value to the next.
    const double behind = sensor_.lag_s * (quantity - quantity_) / dt;
    shown_ =
        quantity - behind + (shown_ - quantity_ + behind) * elementary::exp(-dt / sensor_.lag_s);
  } else if (dt > 0) {
    shown_ = quantity;
  }
  if (seen_ && dt > 0) {
    sum_ += 0.5 * (before + shown_) * dt;
    sum_s_ += dt;
  }
  seen_ = true;
  seen_s_ = t_s;
  quantity_ = quantity;
}

void Instrument::begin_average() { sum_ = sum_s_ = 0; }

float Instrument::read(double t_s, double quantity, int bits, Random& noise) {
  double value = quantity;
  if (remembers()) {
    see(t_s, quantity);
    value = sensor_.average_s > 0 && sum_s_ > 0 ? sum_ / sum_s_ : shown_;
  }
  if (!relaxations_.empty()) value += flicker() / sensor_.gain;
  constexpr double kTurn = 2 * std::numbers::pi;
  if (sensor_.drift > 0) value += sensor_.drift * elementary::sin(kTurn * sensor_.drift_hz * t_s);
  if (sensor_.hum > 0 && sensor_.average_s == 0)
    value += sensor_.hum * elementary::sin(kTurn * sensor_.hum_hz * t_s + sensor_.hum_phase);
  return reading(sensor_, value, bits, noise);
}

}  // namespace airlatch
