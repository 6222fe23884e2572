// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/measure/motor_parameters.hpp"

#include <algorithm>
#include <cmath>

#include "decoders/method/elementary.hpp"

namespace airlatch {
namespace {
constexpr double kFewest = 40;       // sample intervals
constexpr double kFed = 0.2;         // of the nominal voltage: below it the contact is open
constexpr double kEndFrom_s = 0.05;  // for the constant: the run's end
constexpr double kGathers = 0.8;     // of its peak: a current that stays above means no speed
// What the equations leave out, relative: the commutator's ripple, a load that grows with the
// pressure. From rehearsals with 3 % of ripple; common practice, no source.
constexpr double kModel_r = 0.02, kModel_l = 0.1, kModel_tau = 0.05;

}  // namespace

void MotorParameters::take(const CaptureContext& context, const RunFacts& run, double from_s,
                           double to_s) {
  const Track& current = context.track(Role::MOTOR_CURRENT);
  const Track& feed = context.track(CaptureContext::feed_role(run.contact));
  const Track& back = context.track(Role::RETURN_VOLTAGE);
  if (broken_ || run.contact == Contact::NONE || feed.empty() || back.empty() ||
      current.period_s() * kLeastRate_hz > 1.0001)
    return;
  const double until_s = std::min(to_s, run.start_s + kWindow_s);
  const std::int64_t from = current.first_at_or_after(std::max(from_s, run.start_s));
  const std::int64_t to = current.first_at_or_after(until_s);
  Track::Beside feed_v(feed, current, from, to), back_v(back, current, from, to);
  for (std::int64_t k = from; k < to; ++k) {
    const double t_s = current.time_s(k), a = run.current_a(current.value(k));
    const double v = feed_v.at(k) - back_v.at(k);
    if (v < kFed * context.nominal_v || context.at_limit(Role::MOTOR_CURRENT, current.value(k))) {
      broken_ = true;
      return;
    }
    if (started_) {
      const double dt_s = t_s - last_s_, mean_a = (a + last_a_) / 2;
      const Eigen::Vector4d x(mean_a, (a - last_a_) / dt_s, charge_as_ + mean_a * dt_s / 2,
                              -(t_s + last_s_ - 2 * run.start_s) / 2);
      const double y = (v + last_v_) / 2;
      normal_ += x * x.transpose();
      right_ += x * y;
      squares_ += y * y;
      n_ += 1;
      charge_as_ += mean_a * dt_s;
    }
    started_ = true;
    most_a_ = std::max(most_a_, a);
    last_s_ = t_s;
    last_a_ = a;
    last_v_ = v;
  }
}

void MotorParameters::add_to(Event& stop, const CaptureContext& context, const RunFacts& run) {
  constexpr const char* kNone = "motor_resistance";
  const Track& current = context.track(Role::MOTOR_CURRENT);
  if (run.began_before_capture || run.contact == Contact::NONE ||
      !context.has(Role::RETURN_VOLTAGE) || !context.has(CaptureContext::feed_role(run.contact))) {
    add_missing(stop, kNone, MissingCode::NO_CHANNEL,
                "needs the start, with feed, return and current");
    return;
  }
  if (current.period_s() * kLeastRate_hz > 1.0001) {
    add_missing(stop, kNone, MissingCode::TOO_SLOW, "needs 5000 samples a second or more");
    return;
  }
  if (broken_ || n_ < kFewest) {
    add_missing(stop, kNone, broken_ ? MissingCode::DISTURBED : MissingCode::CUT_SHORT,
                broken_ ? "the start was interrupted or out of range" : "the start is too short");
    return;
  }
  if (last_a_ > kGathers * most_a_) {
    add_missing(stop, kNone, MissingCode::NOT_SETTLED, "the rotor did not gather speed");
    return;
  }
  Eigen::Matrix4d normal = normal_;
  normal(1, 1) -= n_ * 2 * elementary::square(context.current_noise_a / current.period_s());
  // Columns of very different size: scaled to unit length before they are solved.
  const Eigen::Vector4d length = normal_.diagonal().cwiseSqrt();
  const Eigen::Matrix4d scaled =
      length.cwiseInverse().asDiagonal() * normal * length.cwiseInverse().asDiagonal();
  const Eigen::Matrix4d inverse =
      length.cwiseInverse().asDiagonal() * scaled.inverse() * length.cwiseInverse().asDiagonal();
  const Eigen::Vector4d b = inverse * right_;
  const double rss = squares_ - 2 * b.dot(right_) + b.dot(normal_ * b);
  const Eigen::Matrix4d covariance = inverse * std::max(rss, 0.0) / (n_ - 4);
  const double ohm = b[0], henry = b[1];
  const auto u = [&](int k) { return std::sqrt(std::max(covariance(k, k), 0.0)); };
  if (!b.allFinite() || !(ohm > 3 * u(0)) || !(henry > 0)) {
    add_missing(stop, kNone, MissingCode::IMPLAUSIBLE, "the start does not follow that of a motor");
    return;
  }
  const double u_rel = combine(context.entry(Role::MOTOR_CURRENT).u_rel,
                               context.entry(CaptureContext::feed_role(run.contact)).u_rel);
  // A mean over an interval is exact for straight pieces only.
  const double u_coarse = elementary::square(current.period_s() * ohm / henry) / 12;
  add_measure(stop, "motor_resistance", {ohm, combine(u(0), u_rel * ohm, kModel_r * ohm)}, "Ω");
  add_measure(stop, "motor_inductance",
              {henry, combine(u(1), (u_rel + u_coarse) * henry, kModel_l * henry)}, "H");
  if (b[2] > 3 * u(2)) {
    const double tau_s = ohm / b[2];
    const double u2 = elementary::square(u(0) / ohm) + elementary::square(u(2) / b[2]) -
                      2 * covariance(0, 2) / (ohm * b[2]);
    add_measure(stop, "mechanical_time_constant",
                {tau_s, tau_s * combine(std::sqrt(std::max(u2, 0.0)), u_coarse, kModel_tau)}, "s");
  } else {
    add_missing(stop, "mechanical_time_constant", MissingCode::NOT_SETTLED,
                "the rotor did not gather speed");
  }
  const Measure* speed = find_measure(stop, "shaft_speed");
  const auto v = context.track(CaptureContext::feed_role(run.contact))
                     .mean(run.stop_s - kEndFrom_s - 0.002, run.stop_s - 0.002);
  const auto r =
      context.track(Role::RETURN_VOLTAGE).mean(run.stop_s - kEndFrom_s - 0.002, run.stop_s - 0.002);
  const auto a = current.mean(run.stop_s - kEndFrom_s - 0.002, run.stop_s - 0.002);
  if (!speed || !v || !r || !a) return;
  const double end_a = run.current_a(a->value), emf_v = v->value - r->value - ohm * end_a;
  const double rad_s = speed->value * 2 * 3.14159265358979 / 60;
  const double u_emf_v =
      combine(combine(u(0), u_rel * ohm, kModel_r * ohm) * end_a,
              context.u_instrument(CaptureContext::feed_role(run.contact), v->value),
              context.u_instrument(Role::RETURN_VOLTAGE, r->value), ohm * a->u());
  // The speed is that of the last two tenths of a second, the voltage that of the last twentieth.
  add_measure(
      stop, "motor_constant",
      {emf_v / rad_s, emf_v / rad_s * combine(u_emf_v / emf_v, speed->u / speed->value, 0.005)},
      "V·s");
}

}  // namespace airlatch
