// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/locked_rotor.hpp"

#include <algorithm>
#include <cmath>

#include "decoders/direction.hpp"
#include "decoders/measure/run_measure.hpp"
#include "decoders/two_state.hpp"

namespace airlatch {
namespace {
constexpr double kWindow_s = 0.02;  // one window; several commutator ripples
}

void LockedRotor::on_edge(const Edge& lower) {
  switch (lower.what) {
    case Edge::What::kMotorOn:
      start_.reset();
      if (!lower.level_seen || lower.began_before_capture) break;
      start_ = lower;
      looked_until_s_ = lower.time_s + 0.04;  // the inrush itself stands near its peak
      since_s_ = lower.time_s;
      from_start_ = true;
      reported_ = false;
      break;
    case Edge::What::kMotorDips:
    case Edge::What::kMotorBack:
      since_s_.reset();
      break;
    case Edge::What::kMotorOff:
      start_.reset();
      break;
    default:
      break;
  }
}

void LockedRotor::on_tick(double now_s) {
  if (!start_) return;
  const Track& current = context_.track(Role::MOTOR_CURRENT);
  // Windows older than what the track keeps are empty: a gap of hours is passed over at once.
  const double empty_s = now_s - Track::kKept_s - looked_until_s_;
  if (empty_s > kWindow_s) looked_until_s_ += std::floor(empty_s / kWindow_s) * kWindow_s;
  while (start_ && looked_until_s_ + kWindow_s <= now_s) {
    const double from_s = looked_until_s_;
    looked_until_s_ += kWindow_s;
    const auto window = current.mean(from_s, looked_until_s_);
    if (!window) continue;
    const double level_a = start_->sign * (window->value - start_->zero);
    if (level_a < kStallShare * start_->after) {
      since_s_.reset();
      from_start_ = false;
    } else {
      if (!since_s_) since_s_ = from_s;
      if (looked_until_s_ - *since_s_ >= kLeastStretch_s && !reported_) judge(looked_until_s_);
    }
  }
}

void LockedRotor::judge(double to_s) {
  const Track& current = context_.track(Role::MOTOR_CURRENT);
  // A pressure that moves the way the pump drives it means rotation; one that falls back does not.
  const Direction moves =
      pressure_direction(context_, *since_s_ + 0.12, to_s);  // clear of what was before
  const Direction drives = context_.directions.of(start_->contact, start_->sign);
  if (moves != Direction::UNKNOWN && (drives == Direction::UNKNOWN || moves == drives)) {
    since_s_.reset();
    return;
  }
  reported_ = true;
  Event event;
  event.kind = Kind::LOCKED_ROTOR;
  event.contact = start_->contact;
  event.direction = context_.directions.of(start_->contact, start_->sign);
  const double stall_s = std::max(*since_s_, to_s - 0.2);
  const auto stall = current.mean(stall_s, to_s);
  const double stall_a = start_->sign * (stall->value - start_->zero);
  Uncertain since{start_->time_s, start_->u_s};
  if (!from_start_) {
    // The rise from the running to the stall level, at its 50 % instant.
    const TwoState::View view{.zero = start_->zero, .magnitude = true};
    const auto before = current.mean(*since_s_ - 5 * kWindow_s, *since_s_ - 2 * kWindow_s);
    const double running_a = before ? start_->sign * (before->value - start_->zero) : 0.5 * stall_a;
    const double half_a = (running_a + stall_a) / 2;
    std::int64_t k =
        std::max(current.first_at_or_after(*since_s_ - 2 * kWindow_s), current.begin() + 1);
    while (k + 1 < current.end() && view.of(current.value(k)) < half_a) ++k;
    since = crossing_instant(current, view, k, half_a, running_a, stall_a);
  }
  event.time_s = since.value;
  event.time_u_s = since.u;
  if (context_.clips.any(Role::MOTOR_CURRENT, stall_s, to_s)) {
    add_missing(event, "stall_current", MissingCode::OUT_OF_RANGE,
                "the current went beyond its sensor's range");
  } else {
    const RunFacts run{.start_s = start_->time_s,
                       .zero_a = start_->zero,
                       .zero_span_s = start_->zero_span_s,
                       .sign = start_->sign};
    Uncertain a = mean_current(context_, run, stall->value, stall_s, to_s);
    a.u = combine(a.u, context_.u_instrument(Role::MOTOR_CURRENT, a.value));
    add_measure(event, "stall_current", a, "A");
  }
  if (!context_.has(Role::LINE_PRESSURE))
    add_note(event, "no pressure channel: judged by the current alone");
  emit(event);
}

}  // namespace airlatch
