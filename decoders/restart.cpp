#include "decoders/restart.hpp"

namespace airlatch {

void Restart::on_event(const v1::Event& lower) {
  switch (lower.kind()) {
    case v1::STALL_CUTOFF:
      cutoff_ = lower;
      break;
    case v1::MOTOR_STOP:
      cutoff_.reset();
      break;
    case v1::FEED_OFF:
      if (cutoff_ && lower.contact() == cutoff_->contact() && lower.time_s() > cutoff_->time_s())
        cutoff_.reset();
      break;
    case v1::MOTOR_START:
      if (cutoff_ && lower.contact() == cutoff_->contact()) {
        v1::Event event;
        event.set_kind(v1::RESTART);
        event.set_time_s(lower.time_s());
        event.set_time_u_s(lower.time_u_s());
        event.set_direction(lower.direction());
        event.set_contact(lower.contact());
        add_measure(
            event, "hold_time",
            {lower.time_s() - cutoff_->time_s(), combine(lower.time_u_s(), cutoff_->time_u_s())},
            "s");
        tell(event);
      }
      cutoff_.reset();
      break;
    default:
      break;
  }
}

}  // namespace airlatch
