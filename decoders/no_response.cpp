// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/no_response.hpp"

#include "decoders/direction.hpp"
#include "decoders/motor_current.hpp"

namespace airlatch {

void NoResponse::on_edge(const Edge& lower) {
  auto& wait = waits_[static_cast<std::size_t>(lower.contact)];
  switch (lower.what) {
    case Edge::What::kFeedOn:
      if (!running_ && !lower.began_before_capture && context_.has(Role::MOTOR_CURRENT))
        wait = Wait{.feed = lower};
      break;
    case Edge::What::kFeedOff:
      if (wait && !wait->off_s) wait->off_s = lower.time_s;
      break;
    case Edge::What::kMotorOn:
      running_ = true;
      for (auto& any : waits_) {
        if (!any) continue;
        const double late_s = lower.time_s - any->feed.time_s - context_.response_limit_s;
        if (late_s < 2 * combine(lower.u_s, any->feed.u_s)) any.reset();
      }
      break;
    case Edge::What::kMotorOff:
      running_ = false;
      break;
    default:
      break;
  }
}

void NoResponse::on_tick(double now_s) {
  for (auto& wait : waits_) {
    if (!wait) continue;
    const Track& current = context_.track(Role::MOTOR_CURRENT);
    const double limit_s = wait->feed.time_s + context_.response_limit_s;
    if (now_s < limit_s + MotorCurrent::kInrush_s + 0.03) continue;
    if (current.empty() || current.time_s(current.end() - 1) < limit_s) continue;
    const Wait done = *wait;
    wait.reset();
    if (done.off_s && *done.off_s < limit_s) continue;
    if (!current.mean(done.feed.time_s, limit_s + current.period_s())) continue;
    // A run that fits between two readings of a slow meter still moves the pressure.
    const bool hidden_run = current.slow() && context_.has(Role::LINE_PRESSURE) &&
                            pressure_direction(context_, done.feed.time_s,
                                               limit_s + current.period_s()) != Direction::UNKNOWN;
    if (hidden_run) continue;
    Event event;
    event.kind = Kind::NO_RESPONSE;
    event.time_s = done.feed.time_s;
    event.time_u_s = done.feed.u_s;
    event.contact = done.feed.contact;
    event.direction = context_.directions.of(done.feed.contact, 0);
    add_measure(event, "waited", {context_.response_limit_s, done.feed.u_s}, "s");
    if (current.slow())
      add_note(event, "waited: a run shorter than the pause between two readings cannot be seen");
    emit(event);
  }
}

}  // namespace airlatch
