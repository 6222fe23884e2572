// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/run_on.hpp"

namespace airlatch {

void RunOn::on_edge(const Edge& lower) {
  switch (lower.what) {
    case Edge::What::kMotorOn:
      start_ = lower;
      dipped_s_.reset();
      break;
    case Edge::What::kMotorDips:
      dipped_s_ = lower.time_s;
      break;
    case Edge::What::kMotorBack:
      dipped_s_.reset();
      break;
    case Edge::What::kMotorOff:
      start_.reset();
      break;
    default:
      break;
  }
}

void RunOn::on_tick(double now_s) {
  if (!start_) return;
  const double limit_s = start_->time_s + context_.run_limit_s;
  const Track& current = context_.track(Role::MOTOR_CURRENT);
  // A little past the limit, so that a fall just before it has been reported.
  if (now_s < limit_s + 0.05 || current.time_s(current.end() - 1) < limit_s) return;
  if (dipped_s_) return;  // stop or dropout: not decided yet
  Event event;
  event.kind = Kind::RUN_ON;
  event.time_s = limit_s;
  event.time_u_s = start_->u_s;
  event.contact = start_->contact;
  event.direction = context_.directions.of(start_->contact, start_->sign);
  const Track& line = context_.track(Role::LINE_PRESSURE);
  if (line.empty()) {
    add_missing(event, "pressure", MissingCode::NO_CHANNEL, "no pressure channel");
  } else {
    const auto near = line.mean(limit_s - 0.05, limit_s + 0.05);
    const double p = near ? near->value : line.at_time(limit_s);
    add_measure(
        event, "pressure",
        {p, combine(near ? line.noise() / std::sqrt(static_cast<double>(near->n)) : line.noise(),
                    context_.u_instrument(Role::LINE_PRESSURE, p))},
        "kPa");
  }
  if (start_->began_before_capture) add_note(event, "the run began before the capture");
  start_.reset();
  emit(event);
}

}  // namespace airlatch
