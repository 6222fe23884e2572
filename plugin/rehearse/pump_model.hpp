// SPDX-License-Identifier: GPL-3.0-or-later
// pump_model.hpp: a made-up pump on a made-up line, in continuous time and without noise.
//
// Source and wiring   u = u_oc - i (R_int + R_feed + R_return); each contact has a path of its own.
// Motor (PM, brushed) L di/dt = u - R i - K w;  J dw/dt = K i - T - T_f - B w, w >= 0.
//                     A feed that opens leaves the current to die through a clamp of kClamp_v; then
//                     the contact shows the coasting motor's back-EMF K w.
// Pump                volume flow Q = D w (1 - p_a / p_end), load torque T = T_p p_a, where p_a is
//                     the gauge pressure the pump works against (0 while it helps).
//                     An internal switch opens at the pressure limit (cut-off) and arms the other
//                     contact; the contact that has run is dead until then.
// Line                N = p_iso V is the air in it (Pa m3 at ambient temperature); the gauge shows
//                     p = N / V (1 + x / T0) - p_amb, x the excess temperature of the pumped air:
//                     dx/dt = f T (kappa-1)/kappa (dp/dt)/p - x / tau_th while it is pumped,
//                     dx/dt = -x / tau_th at rest. f is the share that the walls do not take at
//                     once. Two such warmths, one that goes quickly and one that stays, and the
//                     whole line's own warming through the day. Hoses give: V = V0 (1 + g p).
// Contacts            each adds a resistance that chatters and dies out after its feed.
// Leak                viscous: dN/dt = -G (p_iso - p_amb): exactly exponential with tau = V / G;
//                     laminar: -K (p^2 - p_amb^2) (Hagen-Poiseuille, compressible);
//                     hole: ideal orifice (de Saint-Venant and Wantzel), isothermal.
// All constants are our own invention, of the size such pumps have; none describes a real one.
// Integration: fourth-order Runge-Kutta steps of at most kStep_s while anything moves or is fed,
// closed form or Runge-Kutta of the leak alone at rest.
#pragma once
#include <array>
#include <functional>

namespace airlatch {

enum class LeakLaw { kViscous, kLaminar, kHole };

struct PumpParameters {
  double u_oc_v = 12.4, r_int_ohm = 0.025;
  std::array<double, 2> r_feed_ohm = {0.030, 0.032};  // contact A, B
  double r_return_ohm = 0.020;
  double r_ohm = 0.9, l_h = 0.5e-3, k_vs = 0.020, j_kgm2 = 6e-6;
  double friction_nm = 0.020, viscous_nms = 4e-6;
  double displacement_m3 = 2.0e-7;  // a radian
  double load_nm_kpa = 0.65e-3;     // a kPa of p_a
  double end_kpa = 75;              // where its own leakage eats its flow
  double limit_pressure_kpa = 45, limit_vacuum_kpa = 48;
  double volume_m3 = 250e-6, ambient_kpa = 101.325, temperature_k = 293.15;
  double tau_thermal_s = 1.0, heat_share = 0.35;
  double tau_thermal2_s = 4.0, heat_share2 = 0;  // the second warmth; 0: there is none
  double warming_k_s = 0;                        // of the whole line
  double give_per_kpa = 0;                       // of the hoses: volume a kPa gauge, relative
  double chatter_ohm = 0, chatter_s = 0.05;      // at first, and its time constant
  std::array<double, 2> chatter_hz = {310, 47};
  LeakLaw law = LeakLaw::kViscous;
  double tau_leak_pressure_s = 0, tau_leak_vacuum_s = 0;  // viscous; 0: tight
  double laminar_k = 0;                                   // m3/(s Pa), K of the law above
  double hole_m2 = 0;
  int ripples_per_turn = 10;
  double ripple = 0.03;  // of the current
  bool motor_open = false, seized = false, cutoff = true, changeover = true, rearms = false;
  bool blocked = false;       // nothing of the pressure arrives at the branches
  int stuck_contact = -1;     // the changeover never arms this one
  double rearm_share = 0.85;  // of the limit: a leaking line closes the switch again
  bool needs_return = true;
};

class PumpModel {
 public:
  static constexpr double kStep_s = 20e-6;
  static constexpr double kClamp_v = 0.7;

  explicit PumpModel(const PumpParameters& parameters);

  // Connects the source to a contact (0 = A, 1 = B) or takes it off.
  void feed(int contact, bool on);
  // Interrupts the wiring before the contact, or a brush inside the motor.
  void open_wire(bool open) { wire_open_ = open; }
  void open_brush(bool open) { brush_open_ = open; }
  void seize(bool seized) { p_.seized = seized; }
  void advance(double to_s);

  [[nodiscard]] double time_s() const { return t_s_; }
  [[nodiscard]] double current_a() const;  // with commutator ripple
  [[nodiscard]] double supply_v() const;
  [[nodiscard]] double feed_v(int contact) const;
  [[nodiscard]] double return_v() const { return current_a() * p_.r_return_ohm; }
  [[nodiscard]] double line_kpa() const;          // gauge, with the heat's share
  [[nodiscard]] double isothermal_kpa() const;    // gauge, without it
  [[nodiscard]] double leak_slope_kpa_s() const;  // d/dt of isothermal_kpa at rest
  [[nodiscard]] double speed_rad_s() const { return w_; }
  [[nodiscard]] bool driven() const { return driving_; }  // the source reaches the motor
  [[nodiscard]] bool cut_off() const { return cut_; }     // by itself, feed still there
  [[nodiscard]] int contact() const { return contact_; }  // fed now, or last
  [[nodiscard]] const PumpParameters& parameters() const { return p_; }
  void set_dead(int contact) { dead_ = contact; }  // it ran to its limit on this one last
  void set_line_kpa(double gauge_kpa);
  void set_excess_k(double kelvin) { x_k_ = {kelvin, 0}; }
  [[nodiscard]] const std::array<double, 2>& excess_k() const { return x_k_; }
  [[nodiscard]] double feed_ohm(int contact) const;  // of the path now, chatter included
  void set_speed_rad_s(double w) { w_ = w; }

 private:
  [[nodiscard]] bool dead(int contact) const {
    return dead_ == contact || p_.stuck_contact == contact;
  }
  struct State {
    double i, w, n, x, x2;
  };
  [[nodiscard]] State slope(const State& s, bool driving) const;
  void step(double h_s);
  void rest(double h_s);
  void switches();
  [[nodiscard]] double leak_pa_m3_s(double n) const;
  [[nodiscard]] double pressure_pa(double n, double excess_k) const;  // absolute

  PumpParameters p_;
  double t_s_ = 0, i_ = 0, w_ = 0, n_ = 0, angle_ = 0, fed_at_s_ = 0;
  std::array<double, 2> x_k_ = {};
  int contact_ = 0, dead_ = -1;
  bool fed_ = false, driving_ = false, cut_ = false, wire_open_ = false, brush_open_ = false;
  int direction_ = 1;  // +1 blows
};

}  // namespace airlatch
