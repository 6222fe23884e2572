// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/direction_reversal.hpp"

namespace airlatch {

void DirectionReversal::on_event(const Event& lower) {
  if (lower.kind == Kind::MOTOR_START) {
    if (now_) before_ = now_;
    now_ = Run{.start_s = lower.time_s,
               .start_u_s = lower.time_u_s,
               .direction = lower.direction,
               .contact = lower.contact};
    reported_ = false;
    compare();
  } else if (lower.kind == Kind::STALL_CUTOFF || lower.kind == Kind::MOTOR_STOP) {
    if (!now_) {  // it ran before the capture began
      now_ = Run{.direction = lower.direction, .contact = lower.contact};
    }
    now_->stop_s = lower.time_s;
    now_->stop_u_s = lower.time_u_s;
    now_->stopped = true;
    if (now_->direction == Direction::UNKNOWN) now_->direction = lower.direction;
    compare();
  }
}

void DirectionReversal::compare() {
  if (reported_ || !before_ || !now_) return;
  const bool known =
      before_->direction != Direction::UNKNOWN && now_->direction != Direction::UNKNOWN;
  const bool contacts = before_->contact != Contact::NONE && now_->contact != Contact::NONE;
  const bool differs =
      known ? before_->direction != now_->direction : contacts && before_->contact != now_->contact;
  if (!differs) return;
  reported_ = true;
  Event event;
  event.kind = Kind::DIRECTION_REVERSAL;
  event.time_s = now_->start_s;
  event.time_u_s = now_->start_u_s;
  event.direction = now_->direction;
  event.contact = now_->contact;
  if (before_->stopped)
    add_measure(event, "rest_time",
                {now_->start_s - before_->stop_s, combine(now_->start_u_s, before_->stop_u_s)},
                "s");
  if (!known) add_note(event, "told by the contacts; no pressure channel names the direction");
  emit(event);
}

}  // namespace airlatch
