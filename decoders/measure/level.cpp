// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/measure/level.hpp"

#include <algorithm>
#include <cmath>

#include "decoders/method/elementary.hpp"
#include "decoders/method/parabola.hpp"

namespace airlatch {
namespace {
constexpr double kLowestFlicker_hz = 1e-4;  // hours: a gauge's zero is read that often
// A pressure sensor whose lag the rig does not state: a rise from 10 to 90 % within a millisecond or
// less, which is 2.2 time constants (common practice, no source).
constexpr double kUnstatedLag_s = 0.001 / 2.2;
constexpr double kFewestReadings = 5;
constexpr double kEdge_s = 0.02;  // where exactly an inrush is over: half-width

// What the sensor has not shown yet of a pressure that changes by `slope`.
Uncertain behind(const Rig::Channel& sensor, double slope) {
  if (sensor.lag_s > 0) return {slope * sensor.lag_s, slope * sensor.lag_u_s};
  return {0, slope * kUnstatedLag_s / std::sqrt(3.0)};
}

Uncertain slow_end_pressure(const Track& line, double stop_s) {
  // The pressure at the stop lies between the readings on both sides.
  const std::int64_t k = std::max(line.first_at_or_after(stop_s), line.begin() + 1);
  return {line.at_time(stop_s),
          combine(line.noise() / std::sqrt(2.0), u_of_width(line.value(k) - line.value(k - 1)))};
}
}  // namespace

std::optional<Uncertain> end_pressure(const CaptureContext& context, const RunFacts& run) {
  const Track& line = context.track(Role::LINE_PRESSURE);
  if (line.empty()) return std::nullopt;
  Parabola recent;
  const double from_s = std::max(run.stop_s - Level::kEnd_s, run.start_s);
  for (std::int64_t k = line.first_at_or_after(from_s);
       k < line.end() && line.time_s(k) < run.stop_s; ++k)
    recent.add((line.time_s(k) - run.stop_s) / Level::kEnd_s, line.value(k));
  if (recent.n() < kFewestReadings) {
    if (line.first_at_or_after(run.stop_s) >= line.end()) return std::nullopt;
    return slow_end_pressure(line, run.stop_s);
  }
  // Not the difference of two readings: flicker noise counts from far below the capture's length.
  NoiseModel noise = context.noise_of(Role::LINE_PRESSURE);
  noise.lowest_hz = std::min(noise.lowest_hz, kLowestFlicker_hz);
  const double span_s = run.stop_s - from_s;
  const double white2 = 0.5 * noise.h0 / line.period_s() / recent.n();
  // A value at a line's end has four times the variance of its mean, at a parabola's nine times.
  const auto u_noise = [&](double times) {
    return std::sqrt(noise.variance_of_mean(span_s) + (times - 1) * white2);
  };
  const Parabola::Fit fit = recent.fit(std::sqrt(white2 * recent.n()));
  const double slope = fit.slope / Level::kEnd_s;
  const Uncertain lag = behind(context.entry(Role::LINE_PRESSURE), slope);
  return Uncertain{fit.at_0 + lag.value, combine(combine(u_noise(fit.bends ? 9 : 4), fit.u_bend),
                                                 lag.u, slope * run.stop_u_s)};
}

double Level::inrush_over_s(const CaptureContext& context, const RunFacts& run) {
  // A slow meter's reading holds what was before it.
  const double period_s = context.track(Role::MOTOR_CURRENT).period_s();
  return run.start_s + std::max(kInrushOver_s, kInrushOver_s / 2 + 1.5 * period_s);
}

void Level::take(const CaptureContext& context, const RunFacts& run, double from_s, double to_s) {
  const Track& current = context.track(Role::MOTOR_CURRENT);
  if (!run.began_before_capture) from_s = std::max(from_s, inrush_over_s(context, run));
  const std::int64_t from = current.first_at_or_after(from_s);
  const std::int64_t to = current.first_at_or_after(to_s);
  if (from >= to) return;
  if (n_ == 0) {
    from_s_ = current.time_s(from);
    const auto edge = current.mean(from_s_, from_s_ + kEdge_s);
    first_a_ = edge ? edge->value : current.value(from);
  }
  sum_a_ += sum(current.values(from, to));
  if (current.slow()) squares_ += squares_about(current.values(from, to), first_a_);
  n_ += static_cast<double>(to - from);
  clipped_ = clipped_ || context.clips.any(Role::MOTOR_CURRENT, from_s, to_s);
}

void Level::add_currents(Event& stop, const CaptureContext& context, const RunFacts& run) const {
  constexpr const char* kBeyond = "the current went beyond its sensor's range";
  const Track& current = context.track(Role::MOTOR_CURRENT);
  if (clipped_) {
    add_missing(stop, "run_current", MissingCode::OUT_OF_RANGE, kBeyond);
  } else if (n_ >= 2) {
    const double mean_a = sum_a_ / n_, span_s = std::max(run.stop_s - from_s_, kEdge_s);
    Uncertain a = mean_current(context, run, mean_a, from_s_, run.stop_s);
    const double u_edge = (first_a_ - mean_a) * kEdge_s / std::sqrt(3.0) / span_s;
    // Between a slow meter's few readings the current is not known.
    const double spread2 = squares_ / n_ - elementary::square(mean_a - first_a_);
    const double u_few = current.slow() ? std::sqrt(std::max(0.0, spread2) / n_) : 0;
    a.u = combine(a.u, context.u_instrument(Role::MOTOR_CURRENT, a.value), u_edge, u_few);
    add_measure(stop, "run_current", a, "A");
  } else {
    add_missing(stop, "run_current", MissingCode::CUT_SHORT, "the run is too short");
  }
  const double from_s = run.stop_s - kEnd_s, to_s = run.stop_s - 0.5 * current.period_s();
  const auto end = current.mean(from_s, to_s);
  if (!end || end->n < 3 || current.slow()) {
    add_missing(stop, "end_current", MissingCode::TOO_SLOW,
                "the readings are too far apart for its 50 ms");
  } else if (context.clips.any(Role::MOTOR_CURRENT, from_s, to_s)) {
    add_missing(stop, "end_current", MissingCode::OUT_OF_RANGE, kBeyond);
  } else {
    Uncertain a = mean_current(context, run, end->value, from_s, run.stop_s);
    a.u = combine(a.u, context.u_instrument(Role::MOTOR_CURRENT, a.value));
    add_measure(stop, "end_current", a, "A");
  }
}

void Level::add_to(Event& stop, const CaptureContext& context, const RunFacts& run) {
  if (run.began_before_capture)
    add_missing(stop, "run_time", MissingCode::CUT_SHORT, "the run began before the capture");
  else
    add_measure(stop, "run_time", {run.stop_s - run.start_s, combine(run.start_u_s, run.stop_u_s)},
                "s");
  add_currents(stop, context, run);
  const Track& line = context.track(Role::LINE_PRESSURE);
  if (line.empty()) {
    add_missing(stop, "end_pressure", MissingCode::NO_CHANNEL, "no pressure channel");
  } else if (line.stuck()) {
    add_missing(stop, "end_pressure", MissingCode::IMPLAUSIBLE,
                "the sensor has shown one value only: is it stuck?");
  } else if (context.clips.any(Role::LINE_PRESSURE, run.stop_s - kEnd_s, run.stop_s)) {
    add_missing(stop, "end_pressure", MissingCode::OUT_OF_RANGE,
                "the pressure went beyond its sensor's range");
  } else if (auto p = end_pressure(context, run)) {
    p->u = combine(p->u, context.u_instrument(Role::LINE_PRESSURE, p->value));
    add_measure(stop, "end_pressure", *p, "kPa");
  } else {
    add_missing(stop, "end_pressure", MissingCode::TOO_SLOW, "no reading beside the stop");
  }
}

}  // namespace airlatch
