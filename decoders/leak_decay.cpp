// SPDX-License-Identifier: GPL-3.0-or-later
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
constexpr double kLag_k_s = 0.2 / 3600;    // the share that a thermometer beside the line misses
constexpr double kAmbient_kpa = kAtmosphere_pa / 1000, kNought_k = 273.15;
// Constant code for all of T: the slope is triangular within a step over T, step / (sqrt 6 T).
constexpr double kHiddenSlope = 2.4;
constexpr double kNoSkip_s = 0.1;
constexpr double kEmptied = 0.03;  // of the held pressure: too little left to measure a leak

// What a fit says about the leak, the instrument's share in its uncertainties.
struct Leak {
  Uncertain start_kpa, slope_kpa_s;
  bool seen = false;  // significantly different from zero
  // Loss is counted towards ambient, from either side.
  [[nodiscard]] double towards() const { return start_kpa.value > 0 ? -1 : 1; }
};

void add_decay(Event& event, const Leak& leak, const DecayFit& fit) {
  add_measure(event, "start_pressure", leak.start_kpa, "kPa");
  add_measure(event, "slope", leak.slope_kpa_s, "kPa/s");
  const Uncertain rate{60 * leak.towards() * leak.slope_kpa_s.value, 60 * leak.slope_kpa_s.u};
  add_measure(event, "decay_rate", rate, "kPa/min");
  if (fit.tau_s)
    add_measure(event, "time_constant", *fit.tau_s, "s");
  else
    add_missing(event, "time_constant",
                leak.seen ? MissingCode::CUT_SHORT : MissingCode::NOT_TOLD_FROM_ZERO,
                leak.seen ? "the decay is straight as far as it was seen"
                          : "the slope cannot be told from zero");
  if (!leak.seen)
    add_note(event, fmt::format("decay_rate below {:.2g} kPa/min (95 %)", 60 * fit.bound_kpa_s()));
}

// Of a line whose volume the rig gives.
void add_leak_rate(Event& event, const Leak& leak, const Rig& rig, double kelvin) {
  const double volume_m3 = rig.line_volume_ml * 1e-6;
  const double u_volume = rig.line_volume_u_ml / rig.line_volume_ml;
  const double q = volume_m3 * 1000 * leak.towards() * leak.slope_kpa_s.value;
  const double u_q = combine(volume_m3 * 1000 * leak.slope_kpa_s.u, u_volume * q);
  add_measure(event, "leak_rate", {q, u_q}, "Pa·m³/s");
  add_measure(event, "leak_rate_mbar_l_s", {pa_m3_s_to_mbar_l_s(q), pa_m3_s_to_mbar_l_s(u_q)},
              "mbar·l/s");
  add_measure(event, "leak_rate_sccm", {pa_m3_s_to_sccm(q), pa_m3_s_to_sccm(u_q)}, "cm³/min");
  if (leak.seen && q > 0) {
    const double hole_mm = leak_hole_mm(q, leak.start_kpa.value, kelvin);
    add_measure(event, "leak_hole", {hole_mm, 0.5 * hole_mm * u_q / q}, "mm");
  } else {
    add_missing(event, "leak_hole", MissingCode::NOT_TOLD_FROM_ZERO,
                "the leak cannot be told from zero");
  }
}
}  // namespace

void LeakDecay::on_edge(const Edge& lower) {
  switch (lower.what) {
    case Edge::What::kMotorOff:
      if (context_.has(Role::LINE_PRESSURE)) {
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
  const Track& air = context_.track(Role::AIR_TEMPERATURE);
  if (air.empty()) return gauge_kpa;
  const double now_k = kNought_k + air.at_time(t_s);
  if (rest_->first_k == 0) rest_->first_k = now_k;
  return (gauge_kpa + kAmbient_kpa) * rest_->first_k / now_k - kAmbient_kpa;
}

void LeakDecay::take_until(double to_s) {
  const Track& line = context_.track(Role::LINE_PRESSURE);
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

bool LeakDecay::can_be_fitted(const Rest& rest) const {
  const Track& line = context_.track(Role::LINE_PRESSURE);
  if (rest.trace.points().size() < 5) return false;
  if (rest.held_kpa < kLeastHeld_kpa + 3 * line.noise()) return false;
  if (line.stuck()) return false;  // a tight line and a dead sensor would look the same
  return rest.length_s() >= kShortest_s || rest.emptied;
}

// Standard uncertainty of the slope by what looks like a leak, or hides one.
double LeakDecay::drift_kpa_s(const Rest& rest) const {
  const auto& points = rest.trace.points();
  const Track& line = context_.track(Role::LINE_PRESSURE);
  double mean_kpa = 0;
  for (const auto& point : points) mean_kpa += point.value / static_cast<double>(points.size());
  const double absolute_kpa = kAmbient_kpa + mean_kpa;
  // p ~ T in a closed line: an ambient that drifts looks like a leak.
  const double by_temperature =
      absolute_kpa / rest.kelvin() * (rest.first_k > 0 ? kLag_k_s : kDrift_k_s);
  // A coarse converter hides a slope of about a step over the rest; fewer, the more codes it
  // crosses.
  const double crossed =
      line.step() > 0
          ? std::abs(points.back().value - points[points.size() / 2].value) / line.step()
          : 0;
  return combine(by_temperature, kHiddenSlope * line.quantisation_error() /
                                     std::max(rest.length_s(), 1e-3) / std::sqrt(1 + 2 * crossed));
}

Event LeakDecay::event_of(const Rest& rest, const DecayFit& fit) const {
  const double u_time_s = u_of_width(context_.track(Role::LINE_PRESSURE).period_s());
  const double u_rel = context_.entry(Role::LINE_PRESSURE).u_rel;
  Leak leak{.start_kpa = fit.pressure_kpa, .slope_kpa_s = fit.slope_kpa_s, .seen = fit.leaks()};
  leak.start_kpa.u =
      combine(leak.start_kpa.u, context_.u_instrument(Role::LINE_PRESSURE, leak.start_kpa.value));
  leak.slope_kpa_s.u = combine(leak.slope_kpa_s.u, u_rel * leak.slope_kpa_s.value);

  Event event;
  event.kind = Kind::LEAK_DECAY;
  event.time_s = rest.stop_s + fit.window_start_s;
  event.time_u_s = u_time_s;
  event.contact = rest.contact;
  event.direction = leak.start_kpa.value > 0 ? Direction::PRESSURE : Direction::VACUUM;
  add_measure(event, "duration", {rest.length_s() - fit.window_start_s, u_time_s}, "s");
  add_decay(event, leak, fit);
  const double first_s = rest.trace.points().front().time_s - rest.stop_s;
  if (fit.window_start_s > first_s + kNoSkip_s)
    add_note(event, fmt::format("the first {:.1f} s are the pumped air giving off its heat",
                                fit.window_start_s));
  if (context_.rig.line_volume_ml > 0)
    add_leak_rate(event, leak, context_.rig, rest.kelvin());
  else
    add_missing(event, "leak_rate", MissingCode::NO_VOLUME, "the rig gives no line_volume_ml");
  return event;
}

void LeakDecay::close(double end_s) {
  take_until(end_s);
  const Rest rest = std::move(*rest_);
  rest_.reset();
  if (!can_be_fitted(rest)) return;
  std::vector<DecayPoint> decay;
  for (const auto& point : rest.trace.points())
    decay.push_back({point.time_s - rest.stop_s, point.value, point.n});
  const double u_zero_kpa = context_.entry(Role::LINE_PRESSURE).u_abs;
  DecaySettings settings;
  if (u_zero_kpa > 0) settings.u_zero_kpa = u_zero_kpa;
  settings.drift_kpa_s = drift_kpa_s(rest);
  std::string why;
  if (const auto fit = fit_decay(decay, settings, why)) emit(event_of(rest, *fit));
}

}  // namespace airlatch
