// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/motor_stop.hpp"

#include <algorithm>

#include "decoders/direction.hpp"
#include "decoders/measure/branch_share.hpp"
#include "decoders/measure/energy.hpp"
#include "decoders/measure/level.hpp"
#include "decoders/measure/motor_parameters.hpp"
#include "decoders/measure/path_resistance.hpp"
#include "decoders/measure/rise_rate.hpp"
#include "decoders/measure/shaft_speed.hpp"
#include "decoders/motor_current.hpp"

namespace airlatch {
namespace {
constexpr double kBeforeDip_s = 0.01;
constexpr double kStands_s = 0.2;  // a motor that brakes itself has come to rest
constexpr std::int64_t kFewestAfter = 3;
constexpr double kSteady = 1;       // of what it differs by: more scatter is another current
constexpr double kOrdered_s = 0.1;  // a pump's electronics obey within this
}  // namespace

void MotorStop::on_edge(const Edge& lower) {
  FeedState& feed = feeds_[static_cast<std::size_t>(lower.contact)];
  switch (lower.what) {
    case Edge::What::kFeedOn:
      feed.seen = feed.on = true;
      // The current never fell, yet another contact drives it now: two runs, and the readings are
      // too far apart to separate them.
      if (run_ && run_->contact != Contact::NONE && lower.contact != Contact::NONE &&
          lower.contact != run_->contact && lower.time_s > run_->start_s)
        merged_with_ = lower.contact;
      break;
    case Edge::What::kFeedOff:
      feed = {.seen = true, .on = false, .off_s = lower.time_s, .off_u_s = lower.u_s};
      break;
    case Edge::What::kMotorOn:
      begin(lower);
      break;
    case Edge::What::kMotorDips:
      dipped_s_ = lower.time_s;
      // The rest of an earlier interruption is processed before it is dropped.
      if (run_) take_until(lower.time_s - kBeforeDip_s);
      break;
    case Edge::What::kMotorBack:
      if (run_ && dipped_s_) {
        if (taken_until_s_ >= run_->dip_to_s) run_->dip_from_s = *dipped_s_;
        run_->dip_to_s = lower.time_s;
      }
      dipped_s_.reset();
      break;
    case Edge::What::kMotorOff:
      end(lower);
      break;
  }
}

void MotorStop::begin(const Edge& start) {
  run_ = RunFacts{.start_s = start.time_s,
                  .start_u_s = start.u_s,
                  .contact = start.contact,
                  .zero_a = start.zero,
                  .zero_span_s = start.zero_span_s,
                  .sign = start.sign,
                  .began_before_capture = start.began_before_capture};
  merged_with_.reset();
  measures_.clear();
  measures_.push_back(std::make_unique<Level>());
  measures_.push_back(std::make_unique<RiseRate>(start.time_s));
  measures_.push_back(std::make_unique<BranchShare>());
  measures_.push_back(std::make_unique<Energy>());
  measures_.push_back(std::make_unique<PathResistance>());
  measures_.push_back(std::make_unique<ShaftSpeed>());
  measures_.push_back(std::make_unique<MotorParameters>());  // after the shaft's speed
  taken_until_s_ = start.time_s - RiseRate::lead_s(context_.track(Role::LINE_PRESSURE));
  dipped_s_.reset();
}

void MotorStop::take_until(double to_s) {
  if (to_s <= taken_until_s_) return;
  for (const auto& measure : measures_) measure->take(context_, *run_, taken_until_s_, to_s);
  taken_until_s_ = to_s;
}

void MotorStop::on_tick(double now_s) {
  if (!run_) return;
  double to_s = now_s - kLag_s;
  if (dipped_s_) to_s = std::min(to_s, *dipped_s_ - kBeforeDip_s);
  take_until(to_s);
}

Kind MotorStop::cause(const Edge& stop, Event& event) const {
  if (!context_.has_feed()) {
    add_note(event, "cause: no feed channel, so a cut-off cannot be told from a removed feed");
    return Kind::MOTOR_STOP;
  }
  const bool by_command = stop.contact == Contact::NONE;
  if (by_command && !context_.has(Role::COMMAND_LEVEL)) {
    add_note(event, "cause: the fed contact is not among the measured feeds");
    return Kind::MOTOR_STOP;
  }
  const FeedState& feed = feeds_[static_cast<std::size_t>(stop.contact)];
  const Track& track = context_.track(CaptureContext::feed_role(stop.contact));
  if (!by_command && !feed.seen) {
    const char* const text = "the feed never came up to a source's voltage";
    add_note(event, std::string("cause: ") + text);
    add_missing(event, "level", MissingCode::NOT_TOLD_FROM_ZERO, text);
    return Kind::MOTOR_STOP;
  }
  if (by_command && !feed.seen) return Kind::STALL_CUTOFF;  // constant supply, no order to stop
  const double together_s = std::max({kTogether_s, 2 * combine(stop.u_s, feed.off_u_s),
                                      track.slow() ? 1.5 * track.period_s() : 0.0});
  // A command line that changes at the run's start asked for this very run: only an end of the
  // feed that belongs to the stop is its cause.
  const bool gone = !feed.on && feed.off_s >= stop.time_s - std::max(together_s, kOrdered_s) &&
                    feed.off_s <= stop.time_s + together_s &&
                    stop.time_s - feed.off_s < feed.off_s - run_->start_s;
  if (!gone) return Kind::STALL_CUTOFF;
  if (track.slow() && feed.off_s > stop.time_s - track.period_s())
    add_note(event,
             "cause: feed and current fell within one reading; a cut-off just before the "
             "feed went cannot be ruled out");
  return Kind::MOTOR_STOP;
}

// What the probe shows once the motor stands still, until the next thing happens.
void MotorStop::see_zero_after() {
  const Track& current = context_.track(Role::MOTOR_CURRENT);
  const double from_s = run_->stop_s + std::max(kStands_s, 1.5 * current.period_s());
  const double to_s = run_->stop_s + MotorCurrent::kLongestDropout_s;
  const auto after = current.mean(from_s, to_s);
  if (!after || after->n < kFewestAfter || current.time_s(current.end() - 1) < to_s - 0.05) return;
  if (after->sd > kSteady * std::abs(run_->zero_a - after->value) + 3 * current.noise()) return;
  run_->after_a = after->value;
  run_->after_from_s = from_s;
  run_->after_to_s = to_s;
}

void MotorStop::end(const Edge& stop) {
  if (!run_) return;
  run_->stop_s = stop.time_s;
  run_->stop_u_s = stop.u_s;
  see_zero_after();
  take_until(stop.time_s);
  Event event;
  Edge last = stop;
  if (merged_with_) last.contact = *merged_with_;
  event.kind = cause(last, event);
  event.time_s = stop.time_s;
  event.time_u_s = stop.u_s;
  event.contact = last.contact;
  Direction direction = pressure_direction(
      context_, std::max(run_->start_s, stop.time_s - Track::kKept_s + 1), stop.time_s);
  if (direction == Direction::UNKNOWN) direction = context_.directions.of(last.contact, stop.sign);
  event.direction = direction;
  if (merged_with_)
    add_missing(event, "run_time", MissingCode::TOO_SLOW,
                "the other contact was fed in between; these are two runs whose pause lies between "
                "two readings, so neither is measured");
  else
    for (const auto& measure : measures_) measure->add_to(event, context_, *run_);
  merged_with_.reset();
  measures_.clear();
  run_.reset();
  dipped_s_.reset();
  emit(event);
}

}  // namespace airlatch
