// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/restart.hpp"

namespace airlatch {

void Restart::on_event(const Event& lower) {
  const bool same = cutoff_ && lower.contact == cutoff_->contact;
  if (lower.kind == Kind::MOTOR_START && same) again(lower);
  if (lower.kind == Kind::STALL_CUTOFF)
    cutoff_ = lower;
  else if (lower.kind == Kind::MOTOR_START || lower.kind == Kind::MOTOR_STOP ||
           (lower.kind == Kind::FEED_OFF && same && lower.time_s > cutoff_->time_s))
    cutoff_.reset();
}

void Restart::again(const Event& start) {
  Event event;
  event.kind = Kind::RESTART;
  event.time_s = start.time_s;
  event.time_u_s = start.time_u_s;
  event.direction = start.direction;
  event.contact = start.contact;
  add_measure(event, "hold_time",
              {start.time_s - cutoff_->time_s, combine(start.time_u_s, cutoff_->time_u_s)}, "s");
  emit(event);
}

}  // namespace airlatch
