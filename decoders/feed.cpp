// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/feed.hpp"

#include <algorithm>
#include <cmath>

namespace airlatch {
namespace {
constexpr double kLevelFrom_s = 0.02, kLevelTo_s = 0.05;  // where the fed level is taken
constexpr double kBounce_s = 0.015;
constexpr double kLongestCoast_s = 3.0;  // look-back for the knee
constexpr double kDipLook_s = 0.025;
constexpr double kDipMargin_s = 0.01;  // the feed and the current it drives change within
constexpr double kLeave_v = 0.5;       // a source's ripple stays below (common practice, no source)

double scatter(const std::optional<Track::Mean>& mean) { return mean ? mean->u() : 0; }

// A contact opens at once: somewhere between the samples on both sides.
Uncertain between(const Track& track, std::int64_t k) {
  const double dt_s = track.time_s(k) - track.time_s(k - 1);
  return {track.time_s(k) - dt_s / 2, u_of_width(dt_s)};
}
}  // namespace

Feed::Feed(CaptureContext& context) : Decoder(context) {
  lines_[0].contact = Contact::A;
  lines_[1].contact = Contact::B;
  lines_[2].contact = Contact::NONE;
}

double Feed::scale_v(const Line& line) const {
  // Logic levels are 0 and 1; the rest is judged against the vehicle's nominal voltage.
  const bool logic = line.contact == Contact::NONE && context_.command_is_logic;
  return logic ? 1.0 : context_.nominal_v;
}

void Feed::on_edge(const Edge& lower) {
  if (lower.what == Edge::What::kMotorDips) dip_ = lower;
}

void Feed::on_tick(double now_s) {
  if (dip_) {
    const double wait_s = dip_->time_s + kDipLook_s + 0.005;
    bool judged = true;
    for (Line& line : lines_) {
      if (track(line).empty() || line.contact == Contact::NONE) continue;
      if (now_s < wait_s || track(line).time_s(track(line).end() - 1) < dip_->time_s + 0.005)
        judged = false;
    }
    if (judged) {
      for (Line& line : lines_)
        if (line.state == State::kOn && line.contact != Contact::NONE && !track(line).empty())
          judge_dip(line, *dip_);
      dip_.reset();
    }
  }
  for (Line& line : lines_)
    if (!track(line).empty()) advance(line, now_s, false);
}

void Feed::finish(double end_s) {
  if (dip_)
    for (Line& line : lines_)
      if (line.state == State::kOn && line.contact != Contact::NONE && !track(line).empty())
        judge_dip(line, *dip_);
  for (Line& line : lines_)
    if (!track(line).empty()) {
      advance(line, end_s, true);
      if (line.risen) announce_on(line);
    }
}

void Feed::advance(Line& line, double now_s, bool last) {
  const Track& feed = track(line);
  while (true) {
    if (line.risen && (now_s >= feed.time_s(std::max(*line.risen, feed.begin())) + kLevelTo_s ||
                       feed.slow() || last))
      announce_on(line);
    // While a dip of the current is being examined, the feed's own fall has to wait for the result.
    const bool waits = dip_ && line.state == State::kOn && !last && line.contact != Contact::NONE;
    const std::int64_t to =
        waits ? feed.first_at_or_after(dip_->time_s - kDipMargin_s) : TwoState::kAll;
    const double up_v = line.state == State::kCoasting ? line.back_above_v : 0.3 * scale_v(line);
    const double down_v = std::min(0.15 * scale_v(line), 0.5 * up_v);
    const auto change = line.two_state.advance(feed, {}, up_v, down_v, last, to);
    if (!change) break;
    if (change->up) {
      line.state = State::kOn;
      line.risen = change->k;
      line.on_since_s = feed.time_s(change->k);
      if (!feed.slow()) line.two_state.skip_to(feed.first_at_or_after(line.on_since_s + kBounce_s));
    } else {
      if (line.risen) announce_on(line);
      announce_off(line, change->k);
      line.state = State::kOff;
    }
  }
  // Coasting ends unseen: once the contact is near zero only a full rise counts.
  if (line.state == State::kCoasting && !feed.empty() &&
      feed.value(feed.end() - 1) < 0.15 * scale_v(line))
    line.state = State::kOff;
}

void Feed::announce_on(Line& line) {
  const Track& feed = track(line);
  std::int64_t k = std::max(*line.risen, feed.begin());
  line.risen.reset();
  if (k == 0) {  // fed when the capture began: there is no instant to report
    emit(Edge{.what = Edge::What::kFeedOn,
              .time_s = 0,
              .u_s = 0,
              .contact = line.contact,
              .before = 0,
              .after = feed.value(k),
              .began_before_capture = true});
    return;
  }
  const double t_s = feed.time_s(k);
  const auto off = feed.mean(t_s - 0.1, t_s - 0.005);
  const auto on = feed.mean(t_s + kLevelFrom_s, t_s + kLevelTo_s);
  const double off_v = off && !feed.slow() ? off->value : k > feed.begin() ? feed.value(k - 1) : 0;
  const double on_v = on && !feed.slow() ? on->value : feed.value(k);
  const double half_v = (off_v + on_v) / 2;
  while (k > feed.begin() + 1 && feed.value(k - 1) > half_v) --k;
  while (k + 1 < feed.end() && feed.value(k) <= half_v && feed.time_s(k) < t_s + kBounce_s) ++k;
  bool bounced = false;
  const std::int64_t back = feed.first_at_or_after(feed.time_s(k) - kBounce_s);
  if (!feed.slow())
    for (std::int64_t i = std::max(back, feed.begin() + 1); i + 1 < k; ++i)
      if (feed.value(i) > half_v && feed.value(i - 1) <= half_v) {
        k = i;
        bounced = true;
        break;
      }
  const double u_v = combine(on && !feed.slow() ? scatter(on) : feed.noise(),
                             context_.u_instrument(CaptureContext::feed_role(line.contact), on_v));
  Uncertain time_s = crossing_instant(feed, {}, k, half_v, off_v, on_v);
  // Where contacts bounce, the very first touch may have fallen between two readings.
  if (bounced) time_s.u = combine(time_s.u, feed.period_s());
  say(line, true, time_s, {on_v, u_v});
}

void Feed::announce_off(Line& line, std::int64_t k) {
  const Track& feed = track(line);
  const double t_s = feed.time_s(k);
  // The fed level: the highest 50 ms mean since it came on, within the look-back.
  const double from_s = std::max(line.on_since_s + kBounce_s, t_s - kLongestCoast_s);
  double on_v = 0;
  const auto windows = static_cast<int>(std::ceil((t_s - from_s) / kLevelTo_s));
  for (int w = 0; w < windows; ++w) {
    const double w_s = from_s + w * kLevelTo_s;
    if (const auto window = feed.mean(w_s, w_s + kLevelTo_s)) on_v = std::max(on_v, window->value);
  }
  if (feed.slow() && k > feed.begin()) on_v = feed.value(k - 1);
  if (on_v <= 0) on_v = feed.value(std::max(k - 1, feed.begin()));
  const auto off = feed.mean(t_s + 0.002, t_s + 0.02);
  const double off_v = off ? std::min(off->value, 0.0) : 0;
  const double half_v = (on_v + off_v) / 2;
  std::int64_t half = k;
  while (half > feed.begin() + 1 && feed.value(half - 1) < half_v) --half;
  // The knee: the last sample still at the fed level.
  const double left_v = on_v - std::max(0.06 * on_v, 6 * feed.noise());
  std::int64_t knee = half;
  while (knee > feed.begin() + 1 && feed.value(knee - 1) < left_v) --knee;
  const double fall_s = feed.time_s(half) - feed.time_s(knee);
  Uncertain time_s = crossing_instant(feed, {}, half, half_v, off_v, on_v);
  if (!feed.slow() && fall_s > std::max(0.02, 3 * feed.period_s())) {
    // A slow fall is the motor coasting down; the source left where it began.
    time_s = between(feed, knee);
    time_s.u = combine(time_s.u, 0.05 * fall_s);
  }
  const auto level = feed.mean(time_s.value - kLevelTo_s, time_s.value - 0.002);
  const double level_v = level && !feed.slow() ? level->value : on_v;
  say(line, false, time_s,
      {level_v, combine(level && !feed.slow() ? scatter(level) : feed.noise(),
                        context_.u_instrument(CaptureContext::feed_role(line.contact), level_v))});
}

void Feed::judge_dip(Line& line, const Edge& dip) {
  const Track& feed = track(line);
  if (feed.slow()) return;  // its own fall says as much
  const auto before = feed.mean(dip.time_s - kDipLook_s, dip.time_s - 0.004);
  const auto after = feed.mean(dip.time_s + 0.004, dip.time_s + kDipLook_s);
  if (!before || !after) return;
  const double drop_v = before->value - after->value;
  const double least_v =
      std::max(0.04 * std::abs(before->value),
               5 * combine(feed.noise() / std::sqrt(static_cast<double>(before->n)),
                           feed.noise() / std::sqrt(static_cast<double>(after->n))));
  if (drop_v < least_v) return;
  // The instant: the first sample that leaves the fed level. Half way down would be too late, since
  // the coasting motor holds the contact up; how far up depends on its load.
  const double left_v =
      before->value - std::max(8 * feed.noise(), std::min(0.3 * drop_v, kLeave_v));
  std::int64_t k = feed.first_at_or_after(dip.time_s - kDipMargin_s);
  k = std::max(k, feed.begin() + 1);
  while (k + 1 < feed.end() && feed.value(k) > left_v && feed.time_s(k) < dip.time_s + kDipMargin_s)
    ++k;
  if (line.risen) announce_on(line);
  say(line, false, between(feed, k),
      {before->value,
       combine(scatter(before),
               context_.u_instrument(CaptureContext::feed_role(line.contact), before->value))});
  line.state = State::kCoasting;
  line.back_above_v = (before->value + after->value) / 2;
  line.two_state.set_up(false);
  line.two_state.skip_to(feed.first_at_or_after(dip.time_s + 0.004));
}

void Feed::say(const Line& line, bool on, Uncertain time_s, Uncertain level_v) {
  emit(Edge{.what = on ? Edge::What::kFeedOn : Edge::What::kFeedOff,
            .time_s = time_s.value,
            .u_s = time_s.u,
            .contact = line.contact,
            .before = on ? 0 : level_v.value,
            .after = on ? level_v.value : 0});
  Event event;
  event.kind = on ? Kind::FEED_ON : Kind::FEED_OFF;
  event.time_s = time_s.value;
  event.time_u_s = time_s.u;
  event.contact = line.contact;
  if (line.contact == Contact::NONE) {
    add_note(event, "command line");
  } else {
    event.direction = context_.directions.of(line.contact, 0);
  }
  add_measure(event, "level", level_v, "V");
  emit(event);
}

}  // namespace airlatch
