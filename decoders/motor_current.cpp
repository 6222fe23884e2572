// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/motor_current.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "decoders/method/elementary.hpp"

namespace airlatch {
namespace {
// Sample periods at which the inrush is fitted as a whole: denser ones show it, sparser ones do
// not hold it.
constexpr double kDense_s = 0.00025, kSparse_s = 0.0021;
constexpr double kTransient_s = 0.03;
constexpr double kBounce_s = 0.015;     // contacts settle within (common practice, no source)
constexpr double kZeroMemory_s = 2.0;   // a clamp drifts more slowly than this
constexpr double kZeroGuard_s = 0.03;   // a start under way must not enter the zero
constexpr double kLargestZero_a = 0.5;  // more than this at the first sample is a running motor
constexpr double kLevelMemory_s = 0.05;

struct Peak {
  double value = 0, u = 0, time_s = 0;
};

// The inrush peak in [k0, k1): the largest 3-sample median (a single spike is no peak), then the
// vertex of a parabola through the samples near it, which noise does not push upwards as it does
// the largest sample.
Peak inrush_peak(const Track& track, const TwoState::View& view, std::int64_t k0, std::int64_t k1) {
  const auto v = [&](std::int64_t k) { return view.of(track.value(k)); };
  std::int64_t top = k0;
  double top_v = -1;
  for (std::int64_t k = k0; k < k1; ++k) {
    std::array<double, 3> near{v(std::max(k - 1, k0)), v(k), v(std::min(k + 1, k1 - 1))};
    std::sort(near.begin(), near.end());
    if (near[1] > top_v) {
      top_v = near[1];
      top = k;
    }
  }
  const double noise = track.noise();
  const double floor = top_v - std::max(0.03 * top_v, 4 * noise);
  std::int64_t from = top, to = top + 1;
  while (from > k0 && top - from < 200 && v(from - 1) > floor) --from;
  while (to < k1 && to - top < 200 && v(to) > floor) ++to;
  const auto n = static_cast<double>(to - from);
  const double highest = std::max({v(top), v(std::max(top - 1, k0)), v(std::min(top + 1, k1 - 1))});
  if (n >= 5) {
    // Least squares of y = a + b x + c x^2, x centred and scaled to [-1, 1].
    const double mid_s = (track.time_s(from) + track.time_s(to - 1)) / 2;
    const double half_s = (track.time_s(to - 1) - track.time_s(from)) / 2;
    double s2 = 0, s4 = 0, sy = 0, sxy = 0, sx2y = 0, sx = 0, sx3 = 0;
    for (std::int64_t k = from; k < to; ++k) {
      const double x = (track.time_s(k) - mid_s) / half_s, y = v(k);
      sx += x;
      s2 += x * x;
      sx3 += x * x * x;
      s4 += x * x * x * x;
      sy += y;
      sxy += x * y;
      sx2y += x * x * y;
    }
    // Even spacing makes the odd sums vanish; with slight unevenness this stays accurate enough
    // for a vertex, whose error is of second order.
    const double det = n * s4 - s2 * s2;
    const double c = (n * sx2y - s2 * sy) / det, a = (sy * s4 - s2 * sx2y) / det, b = sxy / s2;
    if (c < 0 && std::abs(b) <= -2 * c) {
      const double vertex = a - b * b / (4 * c);
      double squares = 0;
      for (std::int64_t k = from; k < to; ++k) {
        const double x = (track.time_s(k) - mid_s) / half_s;
        squares += elementary::square(v(k) - (a + b * x + c * x * x));
      }
      const double s = std::sqrt(squares / std::max(1.0, n - 3));
      return {vertex, combine(1.5 * s / std::sqrt(n), 0.3 * s), mid_s - b / (2 * c) * half_s};
    }
  }
  // Few samples over the top: the vertex through the three highest, half of its lead over them
  // being its uncertainty, since the current rises faster than it falls.
  double lead = 0;
  if (top > k0 && top + 1 < k1) {
    const double left = v(top - 1), right = v(top + 1), bend = left - 2 * v(top) + right;
    if (bend < 0) lead = std::min(-(left - right) * (left - right) / (8 * bend), 0.1 * highest);
  }
  return {highest + lead, combine(noise, 0.5 * lead, 0.01 * highest * (lead > 0 ? 1 : 0)),
          track.time_s(top)};
}

// The start: the 10 % instant before sample k, the first above it. Current in a winding rises as
// 1 - exp(-t/tau); where k is the first sample of the rise the curve is followed back from samples
// k and k+1, else a straight line between two samples does.
Uncertain start_instant(const Track& track, const TwoState::View& view, std::int64_t k,
                        double peak) {
  const double level = 0.1 * peak;
  if (k <= track.begin() || k + 1 >= track.end())
    return crossing_instant(track, view, k, level, 0, peak);
  const double v0 = view.of(track.value(k - 1)), v1 = view.of(track.value(k)),
               v2 = view.of(track.value(k + 1));
  const double dt_s = track.time_s(k) - track.time_s(k - 1);
  const bool first_of_rise = v0 < std::max(0.05 * peak, 2 * track.noise());
  if (!first_of_rise || track.slow()) return crossing_instant(track, view, k, level, 0, peak);
  if (v1 > 0.85 * peak || v2 <= v1) return {track.time_s(k) - dt_s / 2, u_of_width(dt_s)};
  const double top = 1.03 * peak;  // the rise aims a little above the peak it reaches
  if (v2 > 0.9 * peak) {
    // One sample in the rise: its time constant is below dt / 2, a third of dt is as good as any.
    const double since_s = -dt_s / 3 * elementary::log((top - v1) / (top - level));
    return {track.time_s(k) - std::clamp(since_s, 0.0, dt_s), combine(0.5 * since_s, 0.1 * dt_s)};
  }
  const double tau_s =
      (track.time_s(k + 1) - track.time_s(k)) / elementary::log((top - v1) / (top - v2));
  const double t_s = track.time_s(k) - tau_s * elementary::log((top - level) / (top - v1));
  const double slope = (top - v1) / tau_s;
  return {std::clamp(t_s, track.time_s(k - 1), track.time_s(k)),
          combine(track.noise() / slope, 0.3 * u_of_width(dt_s))};
}
}  // namespace

double MotorCurrent::least() const {
  return std::max(kLeastCurrent_a, 6 * context_.current_noise_a);
}

void MotorCurrent::on_tick(double now_s) {
  if (!current().empty()) advance(now_s, false);
}

void MotorCurrent::finish(double end_s) {
  if (current().empty()) return;
  advance(end_s, true);
  if (state_ == State::kLow) {
    dip_.what = Edge::What::kMotorOff;
    emit(dip_);
    state_ = State::kOff;
  }
}

void MotorCurrent::advance(double now_s, bool last) {
  bool more = true;
  while (more) {
    switch (state_) {
      case State::kOff:
        more = step_off(now_s, last);
        break;
      case State::kRising:
        more = step_rising(now_s, last);
        break;
      case State::kOn:
        more = step_on(now_s, last);
        break;
      case State::kLow:
        more = step_low(now_s, last);
        break;
    }
  }
}

void MotorCurrent::follow_zero(double now_s) {
  const double to_s = now_s - kZeroGuard_s;
  const double from_s = std::max(zero_until_s_, off_since_s_);
  if (!zero_known_) {
    const auto first = current().mean(current().time_s(current().begin()), now_s);
    if (!first) return;
    zero_known_ = true;
    context_.current_noise_a = current().noise();
    const auto& entry = context_.entry(Role::MOTOR_CURRENT);
    const bool unfed = (context_.has(Role::FEED_A_VOLTAGE) && context_.has(Role::FEED_B_VOLTAGE)) &&
                       context_.fed_contact(0, now_s) == Contact::NONE;
    if (std::abs(first->value) <= kLargestZero_a || entry.auto_zero || unfed) {
      zero_ = first->value;
    } else {  // it runs already: its start cannot be reported, but its stop can
      state_ = State::kOn;
      two_state_.set_up(true);
      level_ = std::abs(first->value);
      run_sign_ = first->value < 0 ? -1 : 1;
      run_contact_ = context_.fed_contact(0, now_s);
      settled_ = true;
      emit(Edge{.what = Edge::What::kMotorOn,
                .time_s = 0,
                .u_s = 0,
                .contact = run_contact_,
                .before = 0,
                .after = level_,
                .zero = zero_,
                .sign = run_sign_,
                .level_seen = false,
                .began_before_capture = true});
    }
    zero_until_s_ = now_s;
    return;
  }
  if (to_s <= from_s) return;
  const std::int64_t from = current().first_at_or_after(from_s);
  const std::int64_t to = current().first_at_or_after(to_s);
  zero_until_s_ = to_s;
  context_.current_noise_a = current().noise();
  if (from >= to) return;
  const double rest = sum(current().values(from, to)) / static_cast<double>(to - from);
  if (std::abs(rest - zero_) > least() / 2) return;
  zero_ += (1 - elementary::exp(-(to_s - from_s) / kZeroMemory_s)) * (rest - zero_);
}

bool MotorCurrent::step_off(double now_s, bool last) {
  const bool was_known = zero_known_;
  if (!was_known) follow_zero(now_s);
  if (state_ != State::kOff) return true;
  const auto change = two_state_.advance(current(), view(), least(), least() / 2, last);
  if (change) {
    rise_k_ = change->k;
    state_ = State::kRising;
    return true;
  }
  // A candidate under way must not enter the zero.
  if (was_known && two_state_.next() >= current().end()) follow_zero(now_s);
  return false;
}

bool MotorCurrent::step_rising(double now_s, bool last) {
  const double rise_s = current().time_s(std::max(rise_k_, current().begin()));
  if (!current().slow() && now_s < rise_s + kInrush_s && !last) return false;
  announce_start(now_s);
  state_ = State::kOn;
  return true;
}

// Where the rise lies between a few samples, a fit of the whole transient is better than
// interpolation.
std::optional<StartTransient> MotorCurrent::fitted_start(std::int64_t k) const {
  const Track& track = current();
  if (track.period_s() < kDense_s || track.period_s() > kSparse_s || k < track.begin() + 3)
    return std::nullopt;
  std::vector<double> times_s, currents_a;
  for (std::int64_t i = k - 3; i < track.end() && track.time_s(i) < track.time_s(k) + kTransient_s;
       ++i) {
    if (context_.at_limit(Role::MOTOR_CURRENT, track.value(i))) return std::nullopt;
    times_s.push_back(track.time_s(i));
    currents_a.push_back(view().of(track.value(i)));
  }
  return fit_start_transient(times_s, currents_a, std::max(track.noise(), 1e-4),
                             track.time_s(k - 1), track.time_s(k));
}

void MotorCurrent::announce_start(double /*now_s*/) {
  const Track& track = current();
  std::int64_t k = std::max(rise_k_, track.begin());
  const auto v = [&](std::int64_t i) { return view().of(track.value(i)); };
  Edge edge{.what = Edge::What::kMotorOn};
  edge.zero = zero_;
  if (track.slow()) {
    edge.level_seen = false;
    edge.after = v(k);
    const Uncertain t = crossing_instant(track, view(), k, 0.1 * edge.after, 0, edge.after);
    edge.time_s = t.value;
    edge.u_s = t.u;
    edge.sign = track.value(k) < zero_ ? -1 : 1;
  } else {
    const std::int64_t until = track.first_at_or_after(track.time_s(k) + kInrush_s);
    const Peak peak = inrush_peak(track, view(), k, std::max(until, k + 1));
    const double level = 0.1 * peak.value;
    while (k > track.begin() && v(k - 1) > level) --k;
    while (k + 1 < until && v(k) <= level) ++k;
    // Bounce: the first touch counts, if two samples in a row show it.
    if (4 * track.noise() < level) {
      const std::int64_t back = track.first_at_or_after(track.time_s(k) - kBounce_s);
      for (std::int64_t i = std::max(back, track.begin() + 1); i + 1 < k; ++i)
        if (v(i) > level && v(i + 1) > level) {
          k = i;
          break;
        }
    }
    const Uncertain t = start_instant(track, view(), k, peak.value);
    edge.time_s = t.value;
    edge.u_s = t.u;
    edge.after = peak.value;
    edge.level_u = peak.u;
    edge.level_time_s = peak.time_s;
    if (const auto fitted = fitted_start(k)) {
      edge.time_s = fitted->start_s.value;
      edge.u_s = combine(fitted->start_s.u, 0.06 * track.period_s());
      edge.after = fitted->peak.value;
      edge.level_u = fitted->peak.u;
      edge.level_time_s = fitted->peak_s;
    }
    if (context_.at_limit(Role::MOTOR_CURRENT,
                          zero_ + (track.at_time(peak.time_s) < zero_ ? -1 : 1) * peak.value)) {
      // The true peak lies beyond the sensor's range, by a factor of 3 at most: so does its 10 %.
      std::int64_t later = k;
      while (later + 1 < until && v(later) <= 3 * level) ++later;
      const double late_s = start_instant(track, view(), later, 3 * peak.value).value - edge.time_s;
      if (late_s > 0) {
        edge.time_s += late_s / 2;
        edge.u_s = combine(edge.u_s, u_of_width(late_s));
      }
    }
    edge.sign = track.at_time(peak.time_s) < zero_ ? -1 : 1;
  }
  level_ = edge.after;
  settled_ = false;
  level_until_s_ = track.slow() ? track.time_s(k) : edge.time_s + kInrush_s;
  two_state_.set_up(true);
  two_state_.skip_to(track.slow() ? k + 1 : track.first_at_or_after(edge.time_s + kBounce_s));
  const double look_s = track.slow() ? track.period_s() : 0.1;
  run_contact_ = context_.fed_contact(edge.time_s + 0.002, edge.time_s + look_s);
  run_sign_ = edge.sign;
  edge.contact = run_contact_;
  emit(edge);
}

void MotorCurrent::follow_level() {
  const Track& track = current();
  const double now_s = track.time_s(track.end() - 1);
  if (track.slow()) {
    if (now_s <= level_until_s_) return;
    // The first reading of a run may have caught the inrush.
    const double v = view().of(track.value(track.end() - 1));
    level_ = settled_ ? level_ + 0.5 * (v - level_) : v;
    settled_ = true;
    level_until_s_ = now_s;
    return;
  }
  if (now_s - level_until_s_ < kLevelMemory_s) return;
  const auto recent = track.mean(now_s - kLevelMemory_s, now_s);
  if (!recent) return;
  const double v = run_sign_ * (recent->value - zero_);
  // While the inrush still decays, the level it falls to is not yet the running level.
  settled_ = v > 0.9 * level_;
  level_ = v;
  level_until_s_ = now_s;
}

bool MotorCurrent::step_on(double /*now_s*/, bool last) {
  const Track& track = current();
  // Before the inrush is over the running level is not known: only a fall to nothing counts.
  const double down = std::max(0.7 * least(), settled_ ? 0.5 * level_ : 0.0);
  const auto change = two_state_.advance(track, view(), std::max(least(), down * 1.2), down, last);
  if (!change) {
    if (two_state_.next() >= track.end()) follow_level();
    return false;
  }
  std::int64_t k = change->k;
  const double t_s = track.time_s(k);
  const auto v = [&](std::int64_t i) { return view().of(track.value(i)); };
  const auto before = track.mean(t_s - 0.05, t_s - 0.002);
  double running = track.slow() || !before ? level_ : run_sign_ * (before->value - zero_);
  if (running < down) running = level_;
  while (k > track.begin() && v(k - 1) < 0.5 * running) --k;
  const Uncertain t = crossing_instant(track, view(), k, 0.5 * running, 0, running);
  // Two meters are not read at the same moment: the feed may have become visible after the start.
  if (run_contact_ == Contact::NONE && track.slow())
    run_contact_ = context_.fed_contact(t.value - 3 * track.period_s(), t.value);
  dip_ = Edge{.what = Edge::What::kMotorDips,
              .time_s = t.value,
              .u_s = t.u,
              .contact = run_contact_,
              .before = running,
              .after = 0,
              .zero = zero_,
              .sign = run_sign_};
  state_ = State::kLow;
  emit(dip_);
  return true;
}

bool MotorCurrent::step_low(double now_s, bool last) {
  const Track& track = current();
  const double up = std::max(least(), 0.5 * dip_.before);
  const auto change = two_state_.advance(track, view(), up, 0.9 * up, last);
  if (change) {
    std::int64_t k = change->k;
    const double t_s = track.time_s(k);
    const double sign = track.value(k) < zero_ ? -1 : 1;
    const double look_s = track.slow() ? track.period_s() : 0.02;
    const Contact contact = context_.fed_contact(t_s, t_s + look_s);
    const bool same = sign == run_sign_ && (contact == run_contact_ || contact == Contact::NONE ||
                                            run_contact_ == Contact::NONE);
    const Uncertain t = crossing_instant(track, view(), k, 0.5 * dip_.before, 0, dip_.before);
    if (same && t.value - dip_.time_s < kLongestDropout_s) {
      Edge back = dip_;
      back.what = Edge::What::kMotorBack;
      back.time_s = t.value;
      back.u_s = t.u;
      settled_ = false;  // it starts anew, with an inrush of its own
      level_until_s_ = t.value + kInrush_s;
      state_ = State::kOn;
      emit(back);
    } else {
      dip_.what = Edge::What::kMotorOff;
      emit(dip_);
      rise_k_ = k;
      state_ = State::kRising;
    }
    return true;
  }
  if (now_s < dip_.time_s + kLongestDropout_s + 0.02 || two_state_.next() < track.end())
    return false;
  const auto low = track.mean(dip_.time_s + 0.3, dip_.time_s + kLongestDropout_s);
  const double left = low ? run_sign_ * (low->value - zero_) : 0;
  if (left > std::max(least(), 0.15 * dip_.before)) {
    // It draws less, but it runs: the load changed, nothing stopped.
    level_ = left;
    level_until_s_ = now_s;
    two_state_.set_up(true);
    state_ = State::kOn;
    return false;
  }
  dip_.what = Edge::What::kMotorOff;
  emit(dip_);
  off_since_s_ = dip_.time_s + 0.2;
  state_ = State::kOff;
  two_state_.set_up(false);
  return false;
}

}  // namespace airlatch
