#include "decoders/leak_decay.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "decoders/method/air.hpp"
#include "decoders/method/decay_fit.hpp"

namespace airlatch {
namespace {
constexpr double kBin_s = 0.02;            // at first: short beside any decay
constexpr double kSettle_s = 0.2;          // the motor coasts and pumps on, the valve closes
constexpr double kDrift_k_s = 1.5 / 3600;  // an unmeasured workshop's temperature, 1.5 K an hour
constexpr double kLag_k_s = 0.2 / 3600;    // what a thermometer beside the line does not see of it
constexpr double kAmbient_kpa = kAtmosphere_pa / 1000, kNought_k = 273.15;
// Constant code for all of T: the slope is triangular within a step over T, step / (sqrt 6 T).
constexpr double kHiddenSlope = 2.4;
constexpr double kNoSkip_s = 0.1;
constexpr double kEmptied = 0.03;  // of the held pressure: nothing left to tell a leak by
}  // namespace

void LeakDecay::on_edge(const Edge& lower) {
  switch (lower.what) {
    case Edge::What::kMotorOff:
      if (context_.has(v1::LINE_PRESSURE)) {
        rest_ = Rest{.stop_s = lower.time_s,
                     .contact = lower.contact,
                     .sign = lower.sign,
                     .trace = Trace(lower.time_s, kBin_s)};
        rest_->taken_until_s = lower.time_s + kSettle_s;
      }
      break;
    case Edge::What::kMotorOn:
      if (rest_) close(lower.time_s - std::max(0.005, 2 * lower.u_s));
      break;
    default:
      break;
  }
}

// The gauge pressure that the same amount of air would show at the rest's first temperature:
// p / T is constant in a tight line (ASTM E2930's correction).
double LeakDecay::at_first_temperature(double gauge_kpa, double t_s) {
  const Track& air = context_.track(v1::AIR_TEMPERATURE);
  if (air.empty()) return gauge_kpa;
  const double now_k = kNought_k + air.at_time(t_s);
  if (rest_->first_k == 0) rest_->first_k = now_k;
  return (gauge_kpa + kAmbient_kpa) * rest_->first_k / now_k - kAmbient_kpa;
}

void LeakDecay::take_until(double to_s) {
  const Track& line = context_.track(v1::LINE_PRESSURE);
  if (!rest_ || to_s <= rest_->taken_until_s || line.empty()) return;
  std::int64_t k = line.first_at_or_after(rest_->taken_until_s);
  const std::int64_t to = line.first_at_or_after(to_s);
  rest_->taken_until_s = to_s;
  if (k < to && rest_->held_kpa == 0) rest_->held_kpa = std::abs(line.value(k));
  while (k < to && !rest_->emptied) {
    k = rest_->trace.add_bin(
        line, k, to, [&](double t_s, double kpa) { return at_first_temperature(kpa, t_s); });
    const auto& last = rest_->trace.points().back();
    rest_->emptied = std::abs(last.value) < kEmptied * rest_->held_kpa &&
                     std::abs(last.value) < 3 * line.noise() / std::sqrt(last.n) + 0.2;
    // A line that was opened falls within a bin or two: they say nothing about the leak.
    if (rest_->emptied && !line.slow()) rest_->trace.drop_last(2);
  }
}

void LeakDecay::on_tick(double now_s) { take_until(now_s - kLag_s); }

void LeakDecay::finish(double end_s) {
  if (rest_) close(end_s + 1e-9);
}

void LeakDecay::close(double end_s) {
  take_until(end_s);
  const Rest rest = std::move(*rest_);
  rest_.reset();
  const auto& points = rest.trace.points();
  const Track& line = context_.track(v1::LINE_PRESSURE);
  if (points.size() < 5 || rest.held_kpa < kLeastHeld_kpa + 3 * line.noise()) return;
  if (line.stuck()) return;  // a tight line would not be told from a dead sensor
  const double length_s = points.back().time_s - rest.stop_s;
  if (length_s < kShortest_s && !rest.emptied) return;

  std::vector<DecayPoint> decay;
  double mean_kpa = 0;
  for (const auto& point : points) {
    decay.push_back({point.time_s - rest.stop_s, point.value, point.n});
    mean_kpa += point.value / static_cast<double>(points.size());
  }
  const auto& entry = context_.channel[v1::LINE_PRESSURE];
  DecaySettings settings;
  settings.u_zero_kpa = entry.u_abs() > 0 ? entry.u_abs() : 0.2;
  const double absolute_kpa = kAmbient_kpa + mean_kpa;
  // p ~ T in a closed line: an ambient that drifts looks like a leak.
  const double kelvin = rest.first_k > 0 ? rest.first_k : 293.15;
  settings.drift_kpa_s = absolute_kpa / kelvin * (rest.first_k > 0 ? kLag_k_s : kDrift_k_s);
  // A coarse converter hides a slope of about a step over the rest; fewer, the more codes it
  // crosses.
  const double crossed =
      line.step() > 0
          ? std::abs(points.back().value - points[points.size() / 2].value) / line.step()
          : 0;
  settings.drift_kpa_s =
      combine(settings.drift_kpa_s, kHiddenSlope * line.quantisation_error() /
                                        std::max(length_s, 1e-3) / std::sqrt(1 + 2 * crossed));
  std::string why;
  const auto fit = fit_decay(decay, settings, why);
  if (!fit) return;

  v1::Event event;
  event.set_kind(v1::LEAK_DECAY);
  event.set_time_s(rest.stop_s + fit->window_start_s);
  event.set_time_u_s(u_of_width(line.period_s()));
  event.set_contact(rest.contact);
  event.set_direction(fit->pressure_kpa.value > 0 ? v1::PRESSURE : v1::VACUUM);
  add_measure(event, "duration", {length_s - fit->window_start_s, u_of_width(line.period_s())},
              "s");
  Uncertain start = fit->pressure_kpa;
  start.u = combine(start.u, context_.u_instrument(v1::LINE_PRESSURE, start.value));
  add_measure(event, "start_pressure", start, "kPa");
  const Uncertain slope{fit->slope_kpa_s.value,
                        combine(fit->slope_kpa_s.u, entry.u_rel() * fit->slope_kpa_s.value)};
  add_measure(event, "slope", slope, "kPa/s");
  const double towards = start.value > 0 ? -1 : 1;
  const Uncertain rate{60 * towards * slope.value, 60 * slope.u};
  add_measure(event, "decay_rate", rate, "kPa/min");
  if (fit->tau_s)
    add_measure(event, "time_constant", *fit->tau_s, "s");
  else
    add_note(event, fit->leaks() ? "time_constant: the decay is straight as far as it was seen"
                                 : "time_constant: the slope cannot be told from zero");
  if (!fit->leaks())
    add_note(event, fmt::format("decay_rate below {:.2g} kPa/min (95 %)", 60 * fit->bound_kpa_s()));
  if (fit->window_start_s > decay.front().time_s + kNoSkip_s)
    add_note(event, fmt::format("the first {:.1f} s are the pumped air giving off its heat",
                                fit->window_start_s));
  if (context_.rig.line_volume_ml() > 0) {
    const double volume_m3 = context_.rig.line_volume_ml() * 1e-6;
    const double u_volume = context_.rig.line_volume_u_ml() / context_.rig.line_volume_ml();
    const double q = volume_m3 * 1000 * towards * slope.value;
    const double u_q = combine(volume_m3 * 1000 * slope.u, u_volume * q);
    add_measure(event, "leak_rate", {q, u_q}, "Pa·m³/s");
    add_measure(event, "leak_rate_mbar_l_s", {pa_m3_s_to_mbar_l_s(q), pa_m3_s_to_mbar_l_s(u_q)},
                "mbar·l/s");
    add_measure(event, "leak_rate_sccm", {pa_m3_s_to_sccm(q), pa_m3_s_to_sccm(u_q)}, "cm³/min");
    if (fit->leaks() && q > 0) {
      const double hole_mm = leak_hole_mm(q, start.value, kelvin);
      add_measure(event, "leak_hole", {hole_mm, 0.5 * hole_mm * u_q / q}, "mm");
    } else {
      add_note(event, "leak_hole: the leak cannot be told from zero");
    }
  } else {
    add_note(event, "leak_rate: the rig gives no line_volume_ml");
  }
  tell(event);
}

}  // namespace airlatch
