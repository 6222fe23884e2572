// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/feed.hpp"

#include <algorithm>
#include <cmath>

#include "decoders/measure/edge_level.hpp"

namespace airlatch {
namespace {
constexpr double kLevelFrom_s = 0.02, kLevelTo_s = 0.05;  // the contract
constexpr double kBounce_s = 0.015;
constexpr double kLongestCoast_s = 3.0;  // look-back for the knee
constexpr double kDipLook_s = 0.025;
constexpr double kDipMargin_s = 0.01;  // a source leaves at most this long before its current
constexpr double kStays_s = 0.001;     // a contact that is up this long after it was not released
constexpr double kLeaves = 0.04;       // of the fed level: a source's ripple stays below
constexpr double kFalls = 0.1;         // of a rise: more than hum and sag
constexpr double kEnough = 0.5;        // of the source's voltage (the 50 % reference level)
constexpr double kLowSource = 0.6;     // of the nominal voltage: a source below is no reference
// Levels of a logic line that is recorded in volts (JESD8: LVTTL, TTL alike).
constexpr double kCommandUp_v = 2.0, kCommandDown_v = 0.8;
}  // namespace

Feed::Feed(CaptureContext& context) : Decoder(context) {
  lines_[0].contact = Contact::A;
  lines_[1].contact = Contact::B;
  lines_[2].contact = Contact::NONE;
}

Feed::Thresholds Feed::thresholds(const Line& line) const {
  if (line.contact == Contact::NONE)
    return context_.command_is_logic ? Thresholds{0.3, 0.15}
                                     : Thresholds{kCommandUp_v, kCommandDown_v};
  const double scale_v = context_.nominal_v;
  const double up_v = line.state == State::kCoasting ? line.back_above_v : 0.3 * scale_v;
  return {up_v, std::min(0.15 * scale_v, 0.5 * up_v)};
}

// What a contact must stand at to count as fed.
double Feed::enough_v(const Line& line, double from_s, double to_s) const {
  if (line.contact == Contact::NONE) return thresholds(line).up_v;
  double source_v = context_.nominal_v;
  const Track& supply = context_.track(Role::SUPPLY_VOLTAGE);
  if (!supply.empty()) {
    const auto mean = supply.mean(from_s, to_s);
    source_v = std::max(mean ? mean->value : supply.at_time(to_s), kLowSource * source_v);
  }
  return kEnough * source_v;
}

void Feed::on_edge(const Edge& lower) {
  if (lower.what == Edge::What::kMotorDips) dip_ = lower;
  if (lower.what == Edge::What::kMotorOn) {
    for (Line& line : lines_)
      if (line.risen && line.contact == lower.contact && line.contact != Contact::NONE)
        announce_on(line, lower.time_s + kLevelTo_s);  // however low it is, it drives the motor
  }
}

void Feed::judge_dips(double now_s, bool last) {
  if (!dip_) return;
  const double wait_s = dip_->time_s + kDipLook_s + 0.005;
  for (Line& line : lines_) {
    if (track(line).empty() || line.contact == Contact::NONE || last) continue;
    if (now_s < wait_s || track(line).time_s(track(line).end() - 1) < dip_->time_s + 0.005) return;
  }
  for (Line& line : lines_)
    if (line.state == State::kOn && !line.risen && line.contact != Contact::NONE &&
        !track(line).empty())
      judge_dip(line, *dip_);
  dip_.reset();
}

void Feed::on_tick(double now_s) {
  judge_dips(now_s, false);
  for (Line& line : lines_)
    if (!track(line).empty()) advance(line, now_s, false);
}

void Feed::finish(double end_s) {
  judge_dips(end_s, true);
  for (Line& line : lines_) {
    if (track(line).empty()) continue;
    advance(line, end_s, true);
    if (line.released) announce_off(line, end_s);
  }
}

// Whether the level after an edge can be seen: a slow meter's next reading is the first whole one.
bool Feed::seen_after(const Track& feed, double edge_s, double now_s) {
  if (now_s < edge_s + kLevelTo_s) return false;
  return !feed.slow() || feed.end() - feed.first_at_or_after(edge_s) >= 2;
}

void Feed::advance(Line& line, double now_s, bool last) {
  const Track& feed = track(line);
  while (true) {
    if (line.released && seen_after(feed, line.released->time_s.value, now_s))
      announce_off(line, now_s);
    if (line.risen) rise(line, now_s, last);
    // While a dip of the current is being examined, the feed's own fall has to wait for the result.
    const bool waits = dip_ && line.state == State::kOn && !last && line.contact != Contact::NONE;
    const std::int64_t to =
        waits ? feed.first_at_or_after(dip_->time_s - kDipMargin_s) : TwoState::kAll;
    const Thresholds at = thresholds(line);
    const auto change = line.two_state.advance(feed, {}, at.up_v, at.down_v, last, to);
    if (!change) break;
    const double t_s = feed.time_s(change->k);
    if (change->up) {
      if (line.released) announce_off(line, t_s);
      line.state = State::kOn;
      line.risen = change->k;
      line.on_since_s = t_s;
      if (!feed.slow()) line.two_state.skip_to(feed.first_at_or_after(t_s + kBounce_s));
    } else {
      fall(line, change->k, t_s);
    }
  }
  // Coasting ends unseen: once the contact is near zero only a full rise counts.
  if (line.state == State::kCoasting && feed.value(feed.end() - 1) < thresholds(line).down_v)
    line.state = State::kOff;
}

// A contact came up and has not been announced: is it the source?
void Feed::rise(Line& line, double now_s, bool last) {
  const Track& feed = track(line);
  const std::int64_t k = std::max(*line.risen, feed.begin());
  const double t_s = feed.time_s(k), end_s = feed.time_s(feed.end() - 1);
  if (!seen_after(feed, t_s, now_s) && !last) return;
  if (fed(line, k, end_s)) {
    announce_on(line, end_s);
    return;
  }
  // It stood too low, but may have come up since.
  const double recent_s = std::max(t_s, end_s - (kLevelTo_s - kLevelFrom_s));
  const auto recent = feed.mean(recent_s, end_s + 0.5 * feed.period_s());
  const double enough = enough_v(line, recent_s, end_s);
  if (!recent || recent->value < enough) return;
  std::int64_t up = k;
  while (up + 1 < feed.end() && feed.value(up) < enough) ++up;
  line.risen = up;
  line.on_since_s = feed.time_s(up);
  announce_on(line, end_s);
}

void Feed::fall(Line& line, std::int64_t k, double t_s) {
  const bool was_fed = !line.risen || fed(line, std::max(*line.risen, track(line).begin()), t_s);
  if (line.risen && was_fed) announce_on(line, t_s);
  line.risen.reset();
  if (was_fed) release(line, k);
  line.state = State::kOff;
}

// Whether the rise at sample k, looked at until then, was the source's: by the level that is asked
// for, or by what there is of a shorter one.
bool Feed::fed(const Line& line, std::int64_t k, double until_s) const {
  const Track& feed = track(line);
  const double t_s = feed.time_s(k);
  if (feed.slow()) {
    const std::int64_t to = std::min(feed.first_at_or_after(until_s) + 1, feed.end());
    double most_v = feed.value(k);
    for (std::int64_t i = k; i < to; ++i) most_v = std::max(most_v, feed.value(i));
    return most_v >= enough_v(line, t_s, until_s);
  }
  const bool whole = until_s >= t_s + kLevelTo_s - feed.period_s();
  const double from_s = whole ? t_s + kLevelFrom_s : t_s,
               to_s = std::min(until_s, t_s + kLevelTo_s);
  const auto level = feed.mean(from_s, to_s);
  return (level ? level->value : feed.value(k)) >= enough_v(line, from_s, to_s);
}

void Feed::announce_on(Line& line, double until_s) {
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
  const std::int64_t whole = std::min(k + 1, feed.end() - 1);  // a slow meter's first whole reading
  // A slow meter's reading before it may hold a part of the edge.
  const double before_v = std::min(feed.value(std::max(k - 1, feed.begin())),
                                   feed.value(std::max(k - 2, feed.begin())));
  const double off_v = off && !feed.slow() ? off->value : before_v;
  const double on_v = on && !feed.slow() ? on->value : std::max(feed.value(k), feed.value(whole));
  const double half_v = (off_v + on_v) / 2;
  while (k > feed.begin() + 1 && feed.value(k - 1) > half_v) --k;
  while (k + 1 < feed.end() && feed.value(k) <= half_v && feed.time_s(k) < t_s + kBounce_s) ++k;
  const auto first = first_touch(feed, {}, k, off_v, on_v, kFalls);
  const Uncertain time_s =
      first ? touch_instant(feed, {}, *first, off_v, on_v)
            : crossing_instant(feed, {}, k, half_v, off_v, on_v, average_s(line));
  say(line, true, time_s, on_v, until_s);
}

// The fed contact fell at sample k: when the source left it.
void Feed::release(Line& line, std::int64_t k) {
  const Track& feed = track(line);
  const double t_s = feed.time_s(k);
  // The fed level: the highest 50 ms mean since it came on, within the look-back.
  const double from_s = std::max(line.on_since_s + kBounce_s, t_s - kLongestCoast_s);
  double on_v = 0;
  const auto windows = static_cast<int>(std::ceil((t_s - from_s) / kLevelTo_s));
  for (int w = 0; w < windows; ++w) {
    const double w_s = from_s + w * kLevelTo_s;
    if (const auto window = feed.mean(w_s, std::min(w_s + kLevelTo_s, t_s)))
      on_v = std::max(on_v, window->value);
  }
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
  Uncertain time_s = crossing_instant(feed, {}, half, half_v, off_v, on_v, average_s(line));
  if (!feed.slow() && fall_s > std::max(0.02, 3 * feed.period_s())) {
    // A slow fall is the motor coasting down; the source left where it began.
    const double dt_s = feed.time_s(knee) - feed.time_s(knee - 1);
    time_s = {feed.time_s(knee) - dt_s / 2, combine(u_of_width(dt_s), 0.05 * fall_s)};
  }
  leave(line, time_s, on_v);
}

// When it left is known to those above at once; the event waits for the level.
void Feed::leave(Line& line, Uncertain time_s, double before_v) {
  line.released = Released{time_s, before_v};
  emit(Edge{.what = Edge::What::kFeedOff,
            .time_s = time_s.value,
            .u_s = time_s.u,
            .contact = line.contact,
            .before = before_v});
}

void Feed::announce_off(Line& line, double until_s) {
  const Released released = *line.released;
  line.released.reset();
  say(line, false, released.time_s, released.before_v, until_s);
}

// The current fell: did the source leave the contact with it?
void Feed::judge_dip(Line& line, const Edge& dip) {
  const Track& feed = track(line);
  if (feed.slow()) return;  // its own fall says as much
  const auto before = feed.mean(dip.time_s - kDipLook_s, dip.time_s - 0.004);
  const auto after = feed.mean(dip.time_s + 0.004, dip.time_s + kDipLook_s);
  if (!before || !after) return;
  const double left_v =
      before->value - std::max(kLeaves * std::abs(before->value), 5 * feed.noise());
  const double stays_s = std::max(kStays_s, 0.75 * feed.period_s());
  std::int64_t k = std::max(feed.first_at_or_after(dip.time_s - kDipMargin_s), feed.begin() + 1);
  const auto left = [&](std::int64_t i) { return feed.value(i) < left_v; };
  while (k + 1 < feed.end() && !(left(k) && left(k + 1))) ++k;
  if (k + 1 >= feed.end() || feed.time_s(k - 1) > dip.time_s + stays_s) return;
  // It opens at once, and what holds it up from then on moves slowly: a reading between the two
  // levels shows which part of its interval was before.
  const double dt_s = feed.time_s(k) - feed.time_s(k - 1), next_v = feed.value(k + 1);
  const double step_v = before->value - next_v;
  const double part = step_v > 0 ? std::clamp((feed.value(k) - next_v) / step_v, 0.0, 1.0) : 0.5;
  leave(line, {feed.time_s(k) + (part - 0.5) * dt_s, u_of_width(dt_s)}, before->value);
  line.state = State::kCoasting;
  line.back_above_v = (before->value + after->value) / 2;
  line.two_state.set_up(false);
  line.two_state.skip_to(feed.first_at_or_after(dip.time_s + 0.004));
}

void Feed::say(const Line& line, bool on, Uncertain time_s, double fed_v, double until_s) {
  const Role role = CaptureContext::feed_role(line.contact);
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
  const auto level = level_after(context_, role, time_s, until_s, kLevelFrom_s, kLevelTo_s);
  if (level)
    add_measure(event, "level", *level, "V");
  else
    add_missing(event, "level", MissingCode::CUT_SHORT,
                "the next change came sooner than 50 ms after it");
  if (on && context_.has(Role::SUPPLY_VOLTAGE)) {
    const auto source =
        level_after(context_, Role::SUPPLY_VOLTAGE, time_s, until_s, kLevelFrom_s, kLevelTo_s);
    if (source) add_measure(event, "supply_level", *source, "V");
  }
  if (on)
    emit(Edge{.what = Edge::What::kFeedOn,
              .time_s = time_s.value,
              .u_s = time_s.u,
              .contact = line.contact,
              .after = level ? level->value : fed_v});
  emit(event);
}

}  // namespace airlatch
