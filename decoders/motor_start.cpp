// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/motor_start.hpp"

#include <cmath>
#include <numbers>
#include <vector>

#include "decoders/direction.hpp"
#include "decoders/method/elementary.hpp"
#include "decoders/method/regression.hpp"
#include "decoders/motor_current.hpp"

namespace airlatch {
namespace {
constexpr double kSagBefore_s = 0.03, kSagAfter_s = 0.05;  // inrush on both sides of its peak

// What flicker and hum of the supply do to the slope of a line through its readings at these currents:
// the slope is a weighted sum of the readings, whose response to a line's sine is known.
double u_of_hum(const NoiseModel& noise, const std::vector<double>& times_s,
                const std::vector<double>& amperes) {
  double mean_a = 0, squares = 0;
  for (const double a : amperes) mean_a += a / static_cast<double>(amperes.size());
  for (const double a : amperes) squares += elementary::square(a - mean_a);
  if (!(squares > 0)) return 0;
  double variance = 0;
  for (const NoiseModel::Line& line : noise.hum) {
    if (!(line.variance > 0)) continue;
    double c = 0, s = 0;
    for (std::size_t i = 0; i < amperes.size(); ++i) {
      const double turn = 2 * std::numbers::pi * line.hz * (times_s[i] - times_s.front());
      c += (amperes[i] - mean_a) * elementary::cos(turn);
      s += (amperes[i] - mean_a) * elementary::sin(turn);
    }
    variance += line.variance * (c * c + s * s);
  }
  const double spread_a = std::sqrt(squares / static_cast<double>(amperes.size()));
  const double half_s = (times_s.back() - times_s.front()) / 2;
  return combine(
      std::sqrt(variance) / squares,
      std::sqrt(noise.h1 > 0 && half_s > 0 ? 2 * std::numbers::ln2 * noise.h1 : 0) / spread_a);
}
}  // namespace

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
      event_ = {};
      event_.kind = Kind::MOTOR_START;
      event_.time_s = lower.time_s;
      event_.time_u_s = lower.u_s;
      event_.contact = lower.contact;
      if (!lower.level_seen)
        add_missing(event_, "inrush_peak", MissingCode::TOO_SLOW,
                    "the readings are too far apart to see it");
      else if (context_.has_hole(Role::MOTOR_CURRENT, lower.time_s - kSagBefore_s,
                                 lower.time_s + kSagAfter_s))
        add_missing(event_, "inrush_peak", MissingCode::DISTURBED,
                    "samples are missing in the inrush");
      else if (context_.clips.any(Role::MOTOR_CURRENT, lower.time_s - 0.01,
                                  lower.time_s + MotorCurrent::kInrush_s) ||
               context_.at_limit(Role::MOTOR_CURRENT, lower.zero + lower.sign * lower.after))
        add_missing(event_, "inrush_peak", MissingCode::OUT_OF_RANGE,
                    "beyond the current sensor's range");
      else
        add_measure(event_, "inrush_peak",
                    {lower.after, combine(lower.level_u,
                                          context_.u_instrument(Role::MOTOR_CURRENT, lower.after))},
                    "A");
      const auto& feed = fed_[contact];
      if (!context_.has_feed()) {
        add_missing(event_, "feed_to_start", MissingCode::NO_CHANNEL, "no feed channel");
      } else if (!lower.level_seen) {
        add_missing(event_, "feed_to_start", MissingCode::TOO_SLOW,
                    "the readings are too far apart");
      } else if (!feed) {
        add_missing(event_, "feed_to_start", MissingCode::NO_CHANNEL,
                    "the fed contact is not among the measured feeds");
      } else if (feed->began_before_capture) {
        add_missing(event_, "feed_to_start", MissingCode::CUT_SHORT,
                    "the feed was on when the capture began");
      } else {
        add_measure(event_, "feed_to_start",
                    {lower.time_s - feed->time_s, combine(lower.u_s, feed->u_s)}, "s");
      }
      add_sag(lower);
      break;
    }
    case Edge::What::kMotorOff:
      if (start_) announce(lower.time_s, true);
      break;
    default:
      break;
  }
}

void MotorStart::add_sag(const Edge& start) {
  const Track& supply = context_.track(Role::SUPPLY_VOLTAGE);
  const Track& current = context_.track(Role::MOTOR_CURRENT);
  if (supply.empty() || supply.slow() || !find_measure(event_, "inrush_peak")) {
    add_missing(event_, "supply_sag",
                supply.empty() ? MissingCode::NO_CHANNEL : MissingCode::TOO_SLOW,
                supply.empty() ? "no supply channel" : "the inrush peak is not known");
    return;
  }
  const double from_s = start.time_s - kSagBefore_s, to_s = start.time_s + kSagAfter_s;
  if (context_.has_hole(Role::SUPPLY_VOLTAGE, from_s, to_s) ||
      context_.has_hole(Role::MOTOR_CURRENT, from_s, to_s)) {
    add_missing(event_, "supply_sag", MissingCode::DISTURBED, "samples are missing in the inrush");
    return;
  }
  LineAccumulator line;
  std::vector<double> times_s, amperes;
  for (std::int64_t k = current.first_at_or_after(from_s);
       k < current.end() && current.time_s(k) < to_s; ++k) {
    const double t_s = current.time_s(k), a = start.sign * (current.value(k) - start.zero);
    times_s.push_back(t_s);
    amperes.push_back(a);
    line.add(a, supply.at_time(t_s));
  }
  if (line.n() < 5) {
    add_missing(event_, "supply_sag", MissingCode::TOO_SLOW,
                "too few supply samples beside the start");
    return;
  }
  const double ohm = -line.slope(), sag_v = ohm * start.after;
  const double u_ohm = combine(line.u_slope(), supply.quantisation_error() / start.after,
                               u_of_hum(context_.noise_of(Role::SUPPLY_VOLTAGE), times_s, amperes));
  const double u_rel = context_.entry(Role::SUPPLY_VOLTAGE).u_rel;
  add_measure(event_, "supply_sag",
              {sag_v, combine(u_ohm * start.after, ohm * start.level_u, u_rel * sag_v)}, "V");
  // The same slope is the source's own resistance with its leads, up to where supply_v is measured.
  add_measure(event_, "supply_resistance",
              {ohm, combine(u_ohm, u_rel * ohm, context_.entry(Role::MOTOR_CURRENT).u_rel * ohm)},
              "Ω");
}

void MotorStart::on_tick(double now_s) {
  if (start_) announce(now_s, now_s > start_->time_s + kLongestWait_s);
}

void MotorStart::finish(double end_s) {
  if (start_) announce(end_s, true);
}

void MotorStart::announce(double until_s, bool last) {
  Direction direction = Direction::UNKNOWN;
  if (context_.has(Role::LINE_PRESSURE))
    direction = pressure_direction(context_, start_->time_s, until_s);
  if (direction != Direction::UNKNOWN) {
    context_.directions.learn(start_->contact, start_->sign, direction);
  } else {
    if (context_.has(Role::LINE_PRESSURE) && !last) return;  // the pressure may still show it
    direction = context_.directions.of(start_->contact, start_->sign);
  }
  event_.direction = direction;
  start_.reset();
  emit(event_);
}

}  // namespace airlatch
