#include "decoders/restart.hpp"

namespace airlatch {

void Restart::on_event(const Event& lower) {
  switch (lower.kind) {
    case Kind::STALL_CUTOFF:
      cutoff_ = lower;
      break;
    case Kind::MOTOR_STOP:
      cutoff_.reset();
      break;
    case Kind::FEED_OFF:
      if (cutoff_ && lower.contact == cutoff_->contact && lower.time_s > cutoff_->time_s)
        cutoff_.reset();
      break;
    case Kind::MOTOR_START:
      if (cutoff_ && lower.contact == cutoff_->contact) {
        Event event;
        event.kind = Kind::RESTART;
        event.time_s = lower.time_s;
        event.time_u_s = lower.time_u_s;
        event.direction = lower.direction;
        event.contact = lower.contact;
        add_measure(event, "hold_time",
                    {lower.time_s - cutoff_->time_s, combine(lower.time_u_s, cutoff_->time_u_s)},
                    "s");
        emit(event);
      }
      cutoff_.reset();
      break;
    default:
      break;
  }
}

}  // namespace airlatch
