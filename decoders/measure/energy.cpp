// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/measure/energy.hpp"

#include <algorithm>
#include <cmath>

namespace airlatch {
namespace {
// The role whose voltage drives the pump: the contact's feed, else the supply.
Role drive_role(const CaptureContext& context, const RunFacts& run) {
  if (run.contact != Contact::NONE && context.has(CaptureContext::feed_role(run.contact)))
    return CaptureContext::feed_role(run.contact);
  return Role::SUPPLY_VOLTAGE;
}
constexpr double kBounce_s = 0.02;  // contacts have settled (common practice, no source)
constexpr double kPart = 0.1;       // of the voltage: less is sag
}  // namespace

void Energy::take(const CaptureContext& context, const RunFacts& run, double from_s, double to_s) {
  const Track& current = context.track(Role::MOTOR_CURRENT);
  const Track& drive = context.track(drive_role(context, run));
  const Track& back = context.track(Role::RETURN_VOLTAGE);
  if (drive.empty()) return;
  const std::int64_t from = current.first_at_or_after(std::max(from_s, run.start_s));
  const std::int64_t to = current.first_at_or_after(to_s);
  if (from >= to) return;
  clipped_ = clipped_ || context.clips.any(Role::MOTOR_CURRENT, from_s, to_s) ||
             context.clips.any(drive_role(context, run), from_s, to_s);
  const double noise_a = current.noise(), noise_v = drive.noise();
  const std::int64_t beside = back.empty() ? current.beside(from, to, drive) : -1;
  const bool follows = n_ > 0 && current.time_s(from) - last_s_ < 1.5 * current.period_s();
  if (beside >= 0 && follows) {  // on one clock: the sums do
    const double n = static_cast<double>(to - from), dt_s = current.period_s();
    const Moments of = moments(drive.values(beside, beside + to - from), current.values(from, to));
    const double sum_w = run.sign * (of.ab - run.zero_a * of.a);
    const double squares_a =
        std::max(0.0, of.bb - 2 * run.zero_a * of.b + n * run.zero_a * run.zero_a);
    const double w = drive.value(beside + to - from - 1) * run.current_a(current.value(to - 1));
    energy_j_ += (sum_w + 0.5 * (last_w_ - w)) * dt_s;
    charge_as_ += run.sign * (of.b - n * run.zero_a) * dt_s;
    volt_s_ += of.a * dt_s;
    variance_ += (of.aa * noise_a * noise_a + squares_a * noise_v * noise_v) * dt_s * dt_s;
    n_ += n;
    last_s_ = current.time_s(to - 1);
    last_w_ = w;
    return;
  }
  Track::Beside drive_v(drive, current, from, to), back_v(back, current, from, to);
  const double settled_v = n_ == 0 ? Energy::settled_v(context, run) : 0;
  for (std::int64_t k = from; k < to; ++k) {
    const double t_s = current.time_s(k), before_s = last_s_, fed_v = drive_v.at(k);
    const double a = run.current_a(current.value(k));
    const double lacks_v = settled_v - fed_v;
    if (n_ > 0 && t_s < run.start_s + kBounce_s && lacks_v > kPart * settled_v && a > 0)
      chatter_j_ += lacks_v * a * (t_s - before_s);
    add(t_s, fed_v - (back.empty() ? 0 : back_v.at(k)), a, noise_a, noise_v, run.start_s);
  }
}

// The driven contact's voltage once it has settled.
double Energy::settled_v(const CaptureContext& context, const RunFacts& run) {
  const Track& drive = context.track(drive_role(context, run));
  const auto settled = drive.mean(run.start_s + kBounce_s, run.start_s + 0.05);
  return settled && !drive.slow() ? settled->value : 0;
}

void Energy::add(double t_s, double u_v, double a, double noise_a, double noise_v, double start_s) {
  const double w = u_v * a, dt_s = t_s - last_s_;
  if (n_ == 0) {
    first_w_ = w;
    first_gap_s_ = t_s - start_s;
    energy_j_ = 0.5 * w * first_gap_s_;
  } else {
    const double u_by_a = u_v * noise_a, u_by_v = a * noise_v;
    charge_as_ += a * dt_s;
    volt_s_ += u_v * dt_s;
    energy_j_ += 0.5 * (w + last_w_) * dt_s;
    variance_ += (u_by_a * u_by_a + u_by_v * u_by_v) * dt_s * dt_s;
  }
  n_ += 1;
  last_s_ = t_s;
  last_w_ = w;
}

void Energy::add_to(Event& stop, const CaptureContext& context, const RunFacts& run) {
  const Role drive = drive_role(context, run);
  if (!context.has(drive)) {
    add_missing(stop, "energy", MissingCode::NO_CHANNEL, "no voltage channel");
    return;
  }
  if (run.began_before_capture || n_ < kLeastReadings) {
    add_missing(stop, "energy", MissingCode::CUT_SHORT,
                run.began_before_capture ? "the run began before the capture"
                                         : "too few readings in the run");
    return;
  }
  if (clipped_) {
    add_missing(stop, "energy", MissingCode::OUT_OF_RANGE,
                "the current went beyond its sensor's range");
    return;
  }
  const double tail_s = run.stop_s - last_s_, long_s = run.stop_s - run.start_s;
  const Track& current = context.track(Role::MOTOR_CURRENT);
  const double seen_s = std::max(last_s_ - run.start_s, current.period_s());
  const double mean_v = volt_s_ / seen_s, seen_a = charge_as_ / seen_s;
  // The mean again as the probe reads it, so that it can be counted from the better zero.
  const Uncertain mean_a =
      mean_current(context, run, run.zero_a + run.sign * seen_a, run.start_s, run.stop_s);
  const double total_j =
      energy_j_ + chatter_j_ / 2 + last_w_ * tail_s + mean_v * (mean_a.value - seen_a) * long_s;
  double variance_v = context.noise_of(drive).variance_of_mean(long_s);
  if (context.has(Role::RETURN_VOLTAGE))
    variance_v += context.noise_of(Role::RETURN_VOLTAGE).variance_of_mean(long_s);
  const double u_noise_j = combine(mean_v * mean_a.u * long_s,
                                   std::sqrt(variance_v) * seen_a * long_s, std::sqrt(variance_));
  const double u_rel =
      combine(context.u_instrument(Role::MOTOR_CURRENT, seen_a) / std::max(seen_a, 1e-9),
              context.u_instrument(drive, mean_v) / mean_v,
              context.entry(Role::RETURN_VOLTAGE).u_abs / mean_v);
  // What the sampling can miss: at the ends, and of the inrush between two samples.
  const double u_ends_j = combine(last_w_ * run.stop_u_s, 0.5 * first_w_ * first_gap_s_,
                                  first_w_ * (current.slow() ? 0.5 * current.period_s() : 0));
  add_measure(stop, "energy",
              {total_j, combine(u_noise_j, u_rel * total_j, u_ends_j, u_of_width(chatter_j_))},
              "J");
  if (drive == Role::SUPPLY_VOLTAGE)
    add_note(stop, "energy: at the source, the wiring's loss is in it");
  else if (!context.has(Role::RETURN_VOLTAGE))
    add_note(stop, "energy: no return channel, the return path's loss is in it");
}

}  // namespace airlatch
