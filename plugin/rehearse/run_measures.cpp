// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/rehearse/run_measures.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "decoders/context.hpp"

namespace airlatch {
namespace {

constexpr double kLeastRise_kpa = 0.5;  // less than this is no rise to take a rate of

struct Mean {
  double sum = 0, weight_s = 0;
  void add(double value, double step_s) {
    sum += value * step_s;
    weight_s += step_s;
  }
  [[nodiscard]] double value() const { return sum / weight_s; }
};

struct Sums {
  double energy_j = 0;
  Mean run_a, end_a, speed_rad_s;
};

Sums sums_of(const Run& run) {
  const double start_s = run.start.time_s, stop_s = run.stop.time_s;
  Sums sums;
  for (std::size_t k = run.start.at; k <= run.stop.at; ++k) {
    const CoursePoint& point = run.course[k];
    if (point.t_s > stop_s) break;
    const double step_s = point.t_s - run.course[k - 1].t_s;
    sums.energy_j += (point.feed_v - point.return_v) * point.i_a * step_s;
    if (point.t_s >= start_s + 0.2) sums.run_a.add(point.i_a, step_s);
    if (point.t_s >= stop_s - 0.05 && point.t_s < stop_s - 0.0005)
      sums.end_a.add(point.i_a, step_s);
    if (point.t_s >= std::max(stop_s - 0.202, start_s + 0.15) && point.t_s < stop_s - 0.002)
      sums.speed_rad_s.add(point.w_rad_s, step_s);
  }
  return sums;
}

// From 10 % to 50 % of the change of pressure, in whichever sense it changes.
void add_rise_rate(Event& stop, const Run& run, double from_kpa, double to_kpa) {
  const double change_kpa = to_kpa - from_kpa;
  const double sign = change_kpa < 0 ? -1 : 1;
  const auto through = [&](double part) {
    return rise_through(
        run.course, run.start.at, [&](const CoursePoint& point) { return sign * point.line_kpa; },
        sign * (from_kpa + part * change_kpa));
  };
  const auto t10 = through(0.1), t50 = through(0.5);
  if (!t10 || !t50 || std::abs(change_kpa) <= kLeastRise_kpa) return;
  const double rate = 0.4 * std::abs(change_kpa) / (t50->time_s - t10->time_s);
  add_measure(stop, "rise_rate", {rate, 0}, "kPa/s");
}

void add_parameters(Event& stop, const PumpParameters& p, int contact, bool command) {
  if (!command)
    add_measure(stop, "feed_path_resistance", {p.r_feed_ohm[static_cast<std::size_t>(contact)], 0},
                "Ω");
  add_measure(stop, "return_path_resistance", {p.r_return_ohm, 0}, "Ω");
  add_measure(stop, "motor_resistance", {p.r_ohm, 0}, "Ω");
  add_measure(stop, "motor_inductance", {p.l_h, 0}, "H");
  const double tau_s = p.j_kgm2 * p.r_ohm / (p.k_vs * p.k_vs);
  add_measure(stop, "mechanical_time_constant", {tau_s, 0}, "s");
  add_measure(stop, "motor_constant", {p.k_vs, 0}, "V·s");
}

}  // namespace

void add_run_measures(Event& stop, const Run& run, const PumpParameters& p, int contact,
                      bool command) {
  const Sums sums = sums_of(run);
  const double run_s = run.stop.time_s - run.start.time_s;
  add_measure(stop, "run_time", {run_s, 0}, "s");
  if (run_s > 0.4) add_measure(stop, "run_current", {sums.run_a.value(), 0}, "A");
  add_measure(stop, "end_current", {sums.end_a.value(), 0}, "A");
  const double from_kpa = run.course[run.start.at].line_kpa;
  const double to_kpa = run.course[index_at(run.course, run.stop.time_s)].line_kpa;
  add_measure(stop, "end_pressure", {to_kpa, 0}, "kPa");
  add_rise_rate(stop, run, from_kpa, to_kpa);
  add_measure(stop, "energy", {sums.energy_j, 0}, "J");
  add_parameters(stop, p, contact, command);
  const Mean& speed = sums.speed_rad_s;
  if (speed.weight_s > 0 && speed.value() > 1)
    add_measure(stop, "shaft_speed", {speed.value() * 60 / (2 * std::numbers::pi), 0}, "rev/min");
}

}  // namespace airlatch
