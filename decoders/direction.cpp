#include "decoders/direction.hpp"

#include <algorithm>
#include <cmath>

namespace airlatch {

v1::Direction pressure_direction(const Bench& bench, double from_s, double to_s) {
  const Track& line = bench.track(v1::LINE_PRESSURE);
  if (line.empty() || from_s >= to_s) return v1::UNKNOWN;
  double p0 = 0, p1 = 0, u = 0;
  if (line.slow()) {
    p0 = line.value(std::max(line.first_at_or_after(from_s) - 1, line.begin()));
    p1 = line.value(std::max(line.first_at_or_after(to_s) - 1, line.begin()));
    u = 1.5 * line.noise();
  } else {
    const double span_s = std::min(0.05, (to_s - from_s) / 2);
    const auto before = line.mean(from_s - 0.1, from_s), after = line.mean(to_s - span_s, to_s);
    if (!after) return v1::UNKNOWN;
    p0 = before ? before->value : line.at_time(from_s);
    p1 = after->value;
    u = combine(before ? before->u() : line.noise(),
                line.noise() / std::sqrt(static_cast<double>(after->n)));
  }
  if (std::abs(p1 - p0) < std::max(kLeastMove_kpa, 5 * u)) return v1::UNKNOWN;
  return p1 > p0 ? v1::PRESSURE : v1::VACUUM;
}

void Reversal::on_event(const v1::Event& lower) {
  if (lower.kind() == v1::MOTOR_START) {
    if (now_) before_ = now_;
    now_ = Run{.start_s = lower.time_s(),
               .start_u_s = lower.time_u_s(),
               .direction = lower.direction(),
               .contact = lower.contact()};
    told_ = false;
    compare();
  } else if (lower.kind() == v1::STALL_CUTOFF || lower.kind() == v1::MOTOR_STOP) {
    if (!now_) {  // it ran before the capture began
      now_ = Run{.direction = lower.direction(), .contact = lower.contact()};
    }
    now_->stop_s = lower.time_s();
    now_->stop_u_s = lower.time_u_s();
    now_->stopped = true;
    if (now_->direction == v1::UNKNOWN) now_->direction = lower.direction();
    compare();
  }
}

void Reversal::compare() {
  if (told_ || !before_ || !now_) return;
  const bool known = before_->direction != v1::UNKNOWN && now_->direction != v1::UNKNOWN;
  const bool contacts = before_->contact != v1::NONE && now_->contact != v1::NONE;
  const bool differs =
      known ? before_->direction != now_->direction : contacts && before_->contact != now_->contact;
  if (!differs) return;
  told_ = true;
  v1::Event event;
  event.set_kind(v1::DIRECTION_REVERSAL);
  event.set_time_s(now_->start_s);
  event.set_time_u_s(now_->start_u_s);
  event.set_direction(now_->direction);
  event.set_contact(now_->contact);
  if (before_->stopped)
    add_measure(event, "rest_time",
                {now_->start_s - before_->stop_s, combine(now_->start_u_s, before_->stop_u_s)},
                "s");
  if (!known) add_note(event, "told by the contacts; no pressure channel names the direction");
  tell(event);
}

}  // namespace airlatch
