#include "decoders/motor_start.hpp"

#include "decoders/direction.hpp"

namespace airlatch {

void MotorStart::on_edge(const Edge& lower) {
  const auto contact = static_cast<std::size_t>(lower.contact);
  switch (lower.what) {
    case Edge::What::kFeedOn:
      fed_[contact] = lower;
      break;
    case Edge::What::kFeedOff:
      fed_[contact].reset();
      break;
    case Edge::What::kMotorOn: {
      if (start_) announce(lower.time_s, true);
      if (lower.began_before_capture) break;
      start_ = lower;
      event_.Clear();
      event_.set_kind(v1::MOTOR_START);
      event_.set_time_s(lower.time_s);
      event_.set_time_u_s(lower.u_s);
      event_.set_contact(lower.contact);
      if (lower.level_seen)
        add_measure(event_, "inrush_peak",
                    {lower.after,
                     combine(lower.level_u, bench_.u_instrument(v1::MOTOR_CURRENT, lower.after))},
                    "A");
      else
        add_note(event_, "inrush_peak: the readings are too far apart to see it");
      const auto& feed = fed_[contact];
      if (!bench_.has_feed()) {
        add_note(event_, "feed_to_start: no feed channel");
      } else if (!feed) {
        add_note(event_, "feed_to_start: the fed contact is not among the measured feeds");
      } else if (feed->began_before_capture) {
        add_note(event_, "feed_to_start: the feed was on when the capture began");
      } else if (!lower.level_seen) {
        add_note(event_, "feed_to_start: the readings are too far apart");
      } else {
        add_measure(event_, "feed_to_start",
                    {lower.time_s - feed->time_s, combine(lower.u_s, feed->u_s)}, "s");
      }
      const Track& supply = bench_.track(v1::SUPPLY_VOLTAGE);
      if (!lower.level_seen || supply.empty()) {
        add_note(event_, supply.empty() ? "supply_sag: no supply channel"
                                        : "supply_sag: the readings are too far apart");
        break;
      }
      const auto before = supply.mean(lower.time_s - 0.05, lower.time_s - 0.002);
      const double half_s = std::max(0.001, 0.6 * supply.period_s());
      const auto peak = supply.mean(lower.level_time_s - half_s, lower.level_time_s + half_s);
      if (!before || !peak || supply.slow()) {
        add_note(event_, "supply_sag: no supply samples beside the start");
        break;
      }
      const auto part = [&](const Track::Mean& m) {
        return supply.noise() / std::sqrt(static_cast<double>(m.n));
      };
      add_measure(event_, "supply_sag",
                  {before->value - peak->value, combine(part(*before), part(*peak),
                                                        bench_.channel[v1::SUPPLY_VOLTAGE].u_rel() *
                                                            (before->value - peak->value))},
                  "V");
      break;
    }
    case Edge::What::kMotorOff:
      if (start_) announce(lower.time_s, true);
      break;
    default:
      break;
  }
}

void MotorStart::on_tick(double now_s) {
  if (start_) announce(now_s, now_s > start_->time_s + kLongestWait_s);
}

void MotorStart::finish(double end_s) {
  if (start_) announce(end_s, true);
}

void MotorStart::announce(double until_s, bool last) {
  v1::Direction direction = v1::UNKNOWN;
  if (bench_.has(v1::LINE_PRESSURE))
    direction = pressure_direction(bench_, start_->time_s, until_s);
  if (direction != v1::UNKNOWN) {
    bench_.directions.learn(start_->contact, start_->sign, direction);
  } else {
    if (bench_.has(v1::LINE_PRESSURE) && !last) return;  // the pressure may still tell
    direction = bench_.directions.of(start_->contact, start_->sign);
  }
  event_.set_direction(direction);
  start_.reset();
  events(event_);
}

}  // namespace airlatch
