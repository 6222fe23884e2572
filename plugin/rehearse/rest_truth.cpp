// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/rehearse/rest_truth.hpp"

#include <algorithm>
#include <cmath>

#include "decoders/context.hpp"
#include "decoders/method/air.hpp"
#include "decoders/method/elementary.hpp"
#include "plugin/rehearse/true_event.hpp"

namespace airlatch {
namespace {

constexpr double kLeastRest_s = 3, kLeastPressure_kpa = 3;
constexpr double kRelaxations = 4;  // of the warm air, then its share is below 2 %

double next_start_s(const std::vector<Event>& truth, std::size_t after, double end_s) {
  for (std::size_t k = after + 1; k < truth.size(); ++k)
    if (truth[k].kind == Kind::MOTOR_START) return truth[k].time_s;
  return end_s;
}

// The last point of the movement that the stop ends; nothing where there is none.
const CoursePoint* last_before(double stop_s, const std::vector<Movement>& movements) {
  const CoursePoint* last = nullptr;
  for (const Movement& movement : movements)
    if (movement.course.front().t_s < stop_s && movement.course.back().t_s >= stop_s - 1e-3)
      last = &movement.course.back();
  return last;
}

Event leak_event(const LineDecay& decay, const PumpParameters& p, bool command) {
  Event event =
      true_event(Kind::LEAK_DECAY, decay.window_s, decay.isothermal_kpa > 0 ? 0 : 1, command);
  const double start_kpa = decay.gauge_kpa(decay.window_s);
  const double slope = decay.slope_kpa_s(decay.window_s);
  add_measure(event, "duration", {decay.end_s - decay.window_s, 0}, "s");
  add_measure(event, "start_pressure", {start_kpa, 0}, "kPa");
  add_measure(event, "slope", {slope, 0}, "kPa/s");
  add_measure(event, "decay_rate", {std::abs(slope) * 60, 0}, "kPa/min");
  if (decay.rise_kpa_s > 0)
    add_measure(event, "leak_share", {std::abs(slope) / decay.rise_kpa_s, 0}, "1");
  if (decay.tau_s > 0) add_measure(event, "time_constant", {decay.tau_s, 0}, "s");
  const double q = p.volume_m3 * std::abs(slope) * 1000;
  add_measure(event, "leak_rate", {q, 0}, "Pa·m³/s");
  if (q > 0)
    add_measure(event, "leak_hole",
                {leak_hole_mm(q, decay.pressure_kpa(decay.window_s), p.temperature_k), 0}, "mm");
  return event;
}

}  // namespace

bool LineDecay::exponential() const {
  return parameters.law == LeakLaw::kViscous && parameters.give_per_kpa == 0;
}

PumpModel LineDecay::model_at(double t_s) const {
  PumpModel model(parameters);
  model.set_line_kpa(isothermal_kpa);
  model.advance(t_s - stop_s);
  return model;
}

double LineDecay::gauge_kpa(double t_s) const {
  const double since_s = t_s - stop_s;
  const double excess = excess_k[0] * elementary::exp(-since_s / parameters.tau_thermal_s) +
                        excess_k[1] * elementary::exp(-since_s / parameters.tau_thermal2_s) +
                        parameters.warming_k_s * t_s;
  const double pa = parameters.ambient_kpa;
  return (pressure_kpa(t_s) + pa) * (1 + excess / parameters.temperature_k) - pa;
}

double LineDecay::pressure_kpa(double t_s) const {
  if (!exponential()) return model_at(t_s).isothermal_kpa();
  return tau_s > 0 ? isothermal_kpa * elementary::exp(-(t_s - stop_s) / tau_s) : isothermal_kpa;
}

double LineDecay::slope_kpa_s(double t_s) const {
  if (!exponential()) return model_at(t_s).leak_slope_kpa_s();
  return tau_s > 0 ? -pressure_kpa(t_s) / tau_s : 0;
}

std::vector<LineDecay> decays_of(const std::vector<Event>& truth,
                                 const std::vector<Movement>& movements, const PumpParameters& p,
                                 double end_s) {
  std::vector<LineDecay> decays;
  for (std::size_t k = 0; k < truth.size(); ++k) {
    const Event& stop = truth[k];
    if (stop.kind != Kind::STALL_CUTOFF && stop.kind != Kind::MOTOR_STOP) continue;
    const double stop_s = stop.time_s;
    const double until_s = next_start_s(truth, k, end_s);
    const Measure* end_pressure = find_measure(stop, "end_pressure");
    const double held_kpa = end_pressure ? end_pressure->value : 0;
    if (until_s - stop_s < kLeastRest_s || std::abs(held_kpa) < kLeastPressure_kpa) continue;
    LineDecay decay;
    decay.stop_s = stop_s;
    decay.window_s = stop_s + std::min(kRelaxations * p.tau_thermal_s, (until_s - stop_s) / 2);
    decay.end_s = until_s;
    decay.tau_s = held_kpa > 0 ? p.tau_leak_pressure_s : p.tau_leak_vacuum_s;
    decay.parameters = p;
    if (p.law != LeakLaw::kViscous) decay.tau_s = 0;
    const CoursePoint* const last = last_before(stop_s, movements);
    decay.isothermal_kpa = last ? last->isothermal_kpa : held_kpa;
    if (last) decay.excess_k = last->excess_k;
    if (const Measure* rise = find_measure(stop, "rise_rate")) decay.rise_kpa_s = rise->value;
    decays.push_back(decay);
  }
  return decays;
}

std::vector<Event> truth_of_rests(const std::vector<LineDecay>& decays, const PumpParameters& p,
                                  bool command) {
  std::vector<Event> truth;
  truth.reserve(decays.size());
  for (const LineDecay& decay : decays) truth.push_back(leak_event(decay, p, command));
  return truth;
}

}  // namespace airlatch
