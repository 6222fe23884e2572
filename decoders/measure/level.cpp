// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/measure/level.hpp"

#include <algorithm>
#include <cmath>

#include "decoders/method/regression.hpp"

namespace airlatch {

std::optional<Uncertain> end_pressure(const CaptureContext& context, const RunFacts& run) {
  const Track& line = context.track(Role::LINE_PRESSURE);
  if (line.empty()) return std::nullopt;
  LineAccumulator recent;
  for (std::int64_t k = line.first_at_or_after(run.stop_s - Level::kEnd_s);
       k < line.end() && line.time_s(k) < run.stop_s; ++k)
    recent.add(line.time_s(k) - run.stop_s, line.value(k));
  if (recent.n() >= 5)
    return Uncertain{recent.intercept(),
                     combine(recent.u_intercept(), recent.slope() * run.stop_u_s)};
  // Slow: the pressure at the stop lies between the readings on both sides.
  const std::int64_t k = std::max(line.first_at_or_after(run.stop_s), line.begin() + 1);
  if (k >= line.end()) return std::nullopt;
  return Uncertain{
      line.at_time(run.stop_s),
      combine(line.noise() / std::sqrt(2.0), u_of_width(line.value(k) - line.value(k - 1)))};
}

void Level::take(const CaptureContext& context, const RunFacts& run, double from_s, double to_s) {
  const Track& current = context.track(Role::MOTOR_CURRENT);
  const double first_s = run.began_before_capture ? from_s : run.start_s + kInrushOver_s;
  const auto more = current.mean(std::max(from_s, first_s), to_s);
  if (!more) return;
  // Chan, Golub and LeVeque's formulas for means and squares of two parts.
  const auto n = static_cast<double>(more->n);
  const double d = run.current_a(more->value) - mean_a_;
  squares_ += more->sd * more->sd * (n - 1) + d * d * n_ * n / (n_ + n);
  n_ += n;
  mean_a_ += d * n / n_;
}

void Level::add_to(Event& stop, const CaptureContext& context, const RunFacts& run) {
  if (run.began_before_capture)
    add_missing(stop, "run_time", MissingCode::CUT_SHORT, "the run began before the capture");
  else
    add_measure(stop, "run_time", {run.stop_s - run.start_s, combine(run.start_u_s, run.stop_u_s)},
                "s");
  const Track& current = context.track(Role::MOTOR_CURRENT);
  if (n_ >= 2) {
    const double u = std::sqrt(squares_ / (n_ - 1) / n_);
    add_measure(stop, "run_current",
                {mean_a_, combine(u, context.u_instrument(Role::MOTOR_CURRENT, mean_a_))}, "A");
  } else {
    add_missing(stop, "run_current", MissingCode::CUT_SHORT, "the run is too short");
  }
  const auto end = current.mean(run.stop_s - kEnd_s, run.stop_s - 0.5 * current.period_s());
  if (end && end->n >= 3 && !current.slow()) {
    const double a = run.current_a(end->value);
    add_measure(stop, "end_current",
                {a, combine(end->u(), context.u_instrument(Role::MOTOR_CURRENT, a))}, "A");
  } else {
    add_missing(stop, "end_current", MissingCode::TOO_SLOW,
                "the readings are too far apart for its 50 ms");
  }
  const Track& line = context.track(Role::LINE_PRESSURE);
  if (line.empty()) {
    add_missing(stop, "end_pressure", MissingCode::NO_CHANNEL, "no pressure channel");
  } else if (line.stuck()) {
    add_missing(stop, "end_pressure", MissingCode::IMPLAUSIBLE,
                "the sensor has shown one value only: is it stuck?");
  } else if (auto p = end_pressure(context, run)) {
    p->u = combine(p->u, context.u_instrument(Role::LINE_PRESSURE, p->value));
    add_measure(stop, "end_pressure", *p, "kPa");
  } else {
    add_missing(stop, "end_pressure", MissingCode::TOO_SLOW, "no reading beside the stop");
  }
}

}  // namespace airlatch
