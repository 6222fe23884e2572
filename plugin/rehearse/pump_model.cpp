// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/rehearse/pump_model.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "decoders/method/air.hpp"
#include "decoders/method/elementary.hpp"

namespace airlatch {

PumpModel::PumpModel(const PumpParameters& parameters) : p_(parameters) { set_line_kpa(0); }

void PumpModel::set_line_kpa(double gauge_kpa) {
  n_ = (gauge_kpa + p_.ambient_kpa) * 1000 * p_.volume_m3 * (1 + p_.give_per_kpa * gauge_kpa);
}

// Of p V0 (1 + g (p - p_amb)) = N (1 + x / T0), the positive root.
double PumpModel::pressure_pa(double n, double excess_k) const {
  const double stiff_pa = n / p_.volume_m3 * (1 + excess_k / p_.temperature_k);
  if (p_.give_per_kpa == 0) return stiff_pa;
  const double g = p_.give_per_kpa / 1000, b = 1 - g * p_.ambient_kpa * 1000;
  return (std::sqrt(b * b + 4 * g * stiff_pa) - b) / (2 * g);
}

double PumpModel::isothermal_kpa() const { return pressure_pa(n_, 0) / 1000 - p_.ambient_kpa; }

double PumpModel::line_kpa() const {
  return pressure_pa(n_, x_k_[0] + x_k_[1] + p_.warming_k_s * t_s_) / 1000 - p_.ambient_kpa;
}

double PumpModel::feed_ohm(int contact) const {
  const double ohm = p_.r_feed_ohm[static_cast<std::size_t>(contact)];
  const double t_s = t_s_ - fed_at_s_;
  if (p_.chatter_ohm == 0 || t_s > 8 * p_.chatter_s) return ohm;
  constexpr double kTurn = 2 * std::numbers::pi;
  return ohm + p_.chatter_ohm * elementary::exp(-t_s / p_.chatter_s) *
                   (0.5 + 0.5 * elementary::sin(kTurn * p_.chatter_hz[0] * t_s) *
                              elementary::sin(kTurn * p_.chatter_hz[1] * t_s));
}

void PumpModel::feed(int contact, bool on) {
  if (on) {
    if (fed_ && contact == contact_) return;
    fed_at_s_ = t_s_;
    contact_ = contact;
    direction_ = contact == 0 ? 1 : -1;
    cut_ = dead(contact);
  }
  fed_ = on;
  if (!on) cut_ = false;
  switches();
}

void PumpModel::switches() {
  if (fed_ && !cut_ && p_.cutoff && driving_) {
    const double p = line_kpa();
    if (direction_ > 0 ? p >= p_.limit_pressure_kpa : p <= -p_.limit_vacuum_kpa) {
      cut_ = true;
      if (p_.changeover) dead_ = contact_;
    }
  } else if (fed_ && cut_ && p_.rearms) {
    const double p = line_kpa() * direction_;
    if (p <= p_.rearm_share * (direction_ > 0 ? p_.limit_pressure_kpa : p_.limit_vacuum_kpa))
      cut_ = false;
  }
  driving_ = fed_ && !cut_ && !wire_open_ && !brush_open_ && !p_.motor_open;
}

double PumpModel::leak_pa_m3_s(double n) const {
  const double pa = p_.ambient_kpa * 1000, p = pressure_pa(n, 0);
  switch (p_.law) {
    case LeakLaw::kViscous: {
      const double tau_s = p > pa ? p_.tau_leak_pressure_s : p_.tau_leak_vacuum_s;
      return tau_s > 0 ? (p - pa) * p_.volume_m3 / tau_s : 0;
    }
    case LeakLaw::kLaminar:
      return p_.laminar_k * (p * p - pa * pa);
    case LeakLaw::kHole: {
      const double r = kGasConstant_air * p_.temperature_k;
      return p > pa ? r * orifice_mass_flow(p_.hole_m2, p, pa, p_.temperature_k)
                    : -r * orifice_mass_flow(p_.hole_m2, pa, p, p_.temperature_k);
    }
  }
  return 0;
}

double PumpModel::leak_slope_kpa_s() const {
  // dN/dp of the hoses as they are now.
  const double g = p_.give_per_kpa / 1000, p = pressure_pa(n_, 0);
  const double dn_dp = p_.volume_m3 * (1 + g * (2 * p - p_.ambient_kpa * 1000));
  return -leak_pa_m3_s(n_) / dn_dp / 1000;
}

PumpModel::State PumpModel::slope(const State& s, bool driving) const {
  State d{0, 0, 0, 0, 0};
  const double gauge = pressure_pa(s.n, s.x + s.x2) / 1000 - p_.ambient_kpa;
  const double emf = p_.k_vs * s.w;
  if (driving) {
    const double r = p_.r_ohm + p_.r_int_ohm + p_.r_return_ohm + feed_ohm(contact_);
    d.i = (p_.u_oc_v - r * s.i - emf) / p_.l_h;
  } else if (s.i > 0) {
    d.i = -(kClamp_v + p_.r_ohm * s.i + emf) / p_.l_h;
  }
  // Only what the pump works against loads it: the other way's pressure does not.
  const double against_kpa = std::max(0.0, direction_ * gauge);
  const double torque = p_.k_vs * std::max(s.i, 0.0) - p_.load_nm_kpa * against_kpa -
                        p_.friction_nm - p_.viscous_nms * s.w;
  if (!p_.seized && (s.w > 0 || torque > 0)) d.w = torque / p_.j_kgm2;
  const double flow = std::max(0.0, p_.displacement_m3 * s.w * (1 - against_kpa / p_.end_kpa));
  // Blowing takes in ambient air, sucking takes out line air.
  const double line_pa = pressure_pa(s.n, 0);
  d.n = direction_ > 0 ? p_.ambient_kpa * 1000 * flow : -line_pa * flow;
  const double pumped_pa_s = d.n / p_.volume_m3;
  d.n -= leak_pa_m3_s(s.n);
  const double heating_k_s =
      p_.temperature_k * (kKappa - 1) / kKappa * pumped_pa_s / line_pa;  // all of it kept
  d.x = p_.heat_share * heating_k_s - s.x / p_.tau_thermal_s;
  d.x2 = p_.heat_share2 * heating_k_s - s.x2 / p_.tau_thermal2_s;
  return d;
}

void PumpModel::step(double h) {
  const State s0{i_, w_, n_, x_k_[0], x_k_[1]};
  const auto plus = [](const State& s, const State& d, double f) {
    return State{s.i + f * d.i, s.w + f * d.w, s.n + f * d.n, s.x + f * d.x, s.x2 + f * d.x2};
  };
  const State a = slope(s0, driving_), b = slope(plus(s0, a, h / 2), driving_),
              c = slope(plus(s0, b, h / 2), driving_), d = slope(plus(s0, c, h), driving_);
  i_ += h / 6 * (a.i + 2 * b.i + 2 * c.i + d.i);
  w_ += h / 6 * (a.w + 2 * b.w + 2 * c.w + d.w);
  n_ += h / 6 * (a.n + 2 * b.n + 2 * c.n + d.n);
  x_k_[0] += h / 6 * (a.x + 2 * b.x + 2 * c.x + d.x);
  x_k_[1] += h / 6 * (a.x2 + 2 * b.x2 + 2 * c.x2 + d.x2);
  if (i_ < 0) i_ = 0;
  if (w_ < 0 || p_.seized) w_ = 0;
  angle_ += w_ * h * p_.ripples_per_turn;
}

void PumpModel::rest(double h) {
  x_k_[0] *= elementary::exp(-h / p_.tau_thermal_s);
  x_k_[1] *= elementary::exp(-h / p_.tau_thermal2_s);
  const double pa = p_.ambient_kpa * 1000 * p_.volume_m3;
  if (p_.law == LeakLaw::kViscous && p_.give_per_kpa == 0) {
    const double tau_s = n_ > pa ? p_.tau_leak_pressure_s : p_.tau_leak_vacuum_s;
    if (tau_s > 0) n_ = pa + (n_ - pa) * elementary::exp(-h / tau_s);
    return;
  }
  const int steps = std::max(1, static_cast<int>(std::ceil(h / 0.01)));
  const double s = h / steps;
  for (int k = 0; k < steps; ++k) {
    const double a = -leak_pa_m3_s(n_), b = -leak_pa_m3_s(n_ + s / 2 * a),
                 c = -leak_pa_m3_s(n_ + s / 2 * b), d = -leak_pa_m3_s(n_ + s * c);
    n_ += s / 6 * (a + 2 * b + 2 * c + d);
  }
}

void PumpModel::advance(double to_s) {
  while (t_s_ < to_s - 1e-12) {
    switches();
    const bool moving = driving_ || i_ > 0 || w_ > 0;
    // A switch that may close again by itself has to be looked at often enough.
    double h = moving ? kStep_s : fed_ && cut_ && p_.rearms ? 1e-4 : to_s - t_s_;
    h = std::min(h, to_s - t_s_);
    if (moving)
      step(h);
    else
      rest(h);
    t_s_ += h;
  }
  switches();
}

double PumpModel::current_a() const { return i_ * (1 + p_.ripple * elementary::cos(angle_)); }

double PumpModel::supply_v() const {
  return p_.u_oc_v - (driving_ ? current_a() * p_.r_int_ohm : 0);
}

double PumpModel::feed_v(int contact) const {
  const bool connected = fed_ && contact == contact_ && !wire_open_;
  if (connected)
    return p_.u_oc_v - (driving_ ? current_a() * (p_.r_int_ohm + feed_ohm(contact)) : 0);
  // Released: the clamp while the current dies, then the coasting motor, if it is still joined to
  // this contact (the internal switch has not opened).
  if (contact != contact_ || cut_ || brush_open_ || p_.motor_open || dead(contact)) return 0;
  return i_ > 0 ? -kClamp_v : p_.k_vs * w_;
}

}  // namespace airlatch
