// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/two_state.hpp"

#include <algorithm>
#include <cmath>

namespace airlatch {

std::optional<TwoState::Change> TwoState::advance(const Track& track, const View& view, double up,
                                                  double down, bool last, std::int64_t to) {
  next_ = std::max(next_, track.begin());
  const std::int64_t end = std::min(to, track.end());
  // Only samples of the newest slice are left, and its extremes say that none is beyond.
  if (next_ >= track.latest().from) {
    const Extremes& all = track.latest().extremes;
    const double a = view.of(static_cast<double>(all.least)),
                 b = view.of(static_cast<double>(all.most));
    // |v - zero| is least at the extreme nearer to the zero, or at the zero between them.
    const bool around =
        view.magnitude &&
        static_cast<double>(all.least)<view.zero&& static_cast<double>(all.most)> view.zero;
    if (up_ ? !around && std::min(a, b) >= down : std::max(a, b) <= up)
      next_ = std::max(next_, end);
  }
  const auto beyond = [&](std::int64_t k) {
    const double v = view.of(track.value(k));
    return up_ ? v < down : v > up;
  };
  // Of [next_, seen_to), which moves on with next_: each sample is looked at once.
  std::int64_t agree = 0, seen_to = next_;
  for (; next_ < end; ++next_) {
    if (!beyond(next_)) continue;
    const std::int64_t k = next_;
    if (seen_to <= k) {
      seen_to = k + 1;
      agree = 1;
    }
    if (!track.slow()) {
      const double until_s = track.time_s(k) + std::max(kConfirm_s, 1.5 * track.period_s());
      for (; seen_to < track.end() && track.time_s(seen_to) <= until_s; ++seen_to)
        agree += beyond(seen_to);
      if (seen_to == track.end() && !last) return std::nullopt;  // not all of it is here yet
    }
    const std::int64_t confirmed = agree, seen = seen_to - k;
    --agree;  // k's own
    if (2 * confirmed <= seen || (!track.slow() && confirmed < 2)) continue;
    up_ = !up_;
    next_ = k + 1;
    return Change{up_, k};
  }
  return std::nullopt;
}

namespace {
constexpr double kLeaves = 0.15;        // of a step: less is the level's own movement
constexpr std::int64_t kMostRamp = 16;  // readings over which a meter's mean may spread a step
constexpr double kBounce_s = 0.015;     // contacts settle within (common practice, no source)
constexpr double kBetween_s = 0.005;    // a bouncing contact touches again within (same)
constexpr double kWhole = 0.85;         // of a step: no part of it is missing
constexpr double kAgain = 0.5;          // of the most so far: a touch again, no change of load
constexpr double kTouch = 0.03;         // of a step: the least that counts as a touch
constexpr double kAverageShape = 0.05;  // of the averaging time: its window is no exact rectangle

// The step that a slow meter's readings show: see the header.
Uncertain slow_instant(const Track& track, const TwoState::View& view, std::int64_t k, double low,
                       double high, double average_s) {
  const double rise = high - low;
  const auto part = [&](std::int64_t i) { return (view.of(track.value(i)) - low) / rise; };
  const bool up = part(k) > part(k - 1);
  const auto moved = [&](std::int64_t i) { return up ? part(i) : 1 - part(i); };
  const std::int64_t first = std::max(track.begin() + 1, k - kMostRamp);
  while (k > first && moved(k - 1) > kLeaves) --k;
  const double after_s = track.time_s(k - 1), shown_s = track.time_s(k);
  const Uncertain between{(after_s + shown_s) / 2, u_of_width(shown_s - after_s)};
  if (!(average_s > 0)) return between;
  const double u_shape_s = kAverageShape * average_s;
  if (moved(k) < 0.95) {  // the mean shows which part of its window lies behind the step
    const double t_s = shown_s - std::max(moved(k), 0.0) * average_s;
    const double u_noise_s = average_s * std::min(track.noise() / std::abs(rise), 1.0);
    return {std::clamp(t_s, after_s, shown_s), combine(u_noise_s, u_shape_s)};
  }
  const double latest_s = std::max(shown_s - average_s, after_s);
  return {(after_s + latest_s) / 2, combine(u_of_width(latest_s - after_s), u_shape_s)};
}
}  // namespace

Uncertain crossing_instant(const Track& track, const TwoState::View& view, std::int64_t k,
                           double level, double low, double high, double average_s) {
  if (k <= track.begin()) return {track.time_s(k), u_of_width(track.period_s())};
  const double v0 = view.of(track.value(k - 1)), v1 = view.of(track.value(k));
  const double t0_s = track.time_s(k - 1), dt_s = track.time_s(k) - t0_s;
  const double step = std::abs(v1 - v0), whole = std::abs(high - low);
  if (dt_s > Track::kSlowPeriod_s && whole > 0)
    return slow_instant(track, view, k, low, high, average_s);
  // A mean over many samples reaches its middle half its length after the step.
  const double late_s = average_s / 2, u_late_s = kAverageShape * average_s;
  if (step <= 0 || step > 0.8 * whole)
    return {t0_s + dt_s / 2 - late_s, combine(u_of_width(dt_s), u_late_s)};
  const double part = std::clamp((level - v0) / (v1 - v0), 0.0, 1.0);
  // Noise over slope, and what a straight line between two samples of a bent curve can miss: it
  // grows with the share of the transition that lies between them.
  // The interval is known, whatever the noise.
  const double u_noise_s = std::min(track.noise() / (step / dt_s), dt_s);
  return {t0_s + part * dt_s - late_s,
          combine(u_noise_s, 0.5 * u_of_width(dt_s) * step / whole, u_late_s)};
}

std::optional<std::int64_t> first_touch(const Track& track, const TwoState::View& view,
                                        std::int64_t k, double low, double high, double falls) {
  if (track.slow()) return std::nullopt;
  const auto v = [&](std::int64_t i) { return view.of(track.value(i)) - low; };
  const double noise = track.noise(), least = std::max(kTouch * (high - low), 8 * noise);
  const double k_s = track.time_s(k), between_s = std::max(kBetween_s, 1.5 * track.period_s());
  // What comes down and goes up again has left; what only comes down has an overshoot.
  const double moves = falls * (high - low) + 6 * noise;
  bool leaves = false, down = false;
  double most = v(k), fewest = 0;
  for (std::int64_t i = k; i < track.end() && track.time_s(i) < k_s + kBounce_s; ++i) {
    leaves = leaves || (down && v(i) > fewest + moves && v(i) > kAgain * most);
    fewest = down ? std::min(fewest, v(i)) : v(i);
    most = std::max(most, v(i));
    down = down || v(i) < most - moves;
  }
  std::int64_t first = k;
  for (std::int64_t i = k - 1; i > track.begin() && track.time_s(i) >= k_s - kBounce_s; --i) {
    if (track.time_s(first) - track.time_s(i) > between_s) break;
    if (v(i) < least) continue;
    leaves = leaves || v(i + 1) < v(i) - moves / 2;
    first = i;
  }
  return leaves ? std::optional(first) : std::nullopt;
}

Uncertain touch_instant(const Track& track, const TwoState::View& view, std::int64_t k, double low,
                        double high) {
  const double dt_s = track.time_s(k) - track.time_s(k - 1);
  const double part =
      high > low ? std::clamp((view.of(track.value(k)) - low) / (high - low), 0.0, 1.0) : 1;
  // A touch before it may have been too short to show.
  const double u_hidden_s = dt_s / 4;
  if (part > kWhole) return {track.time_s(k) - dt_s / 2, combine(u_of_width(dt_s), u_hidden_s)};
  return {track.time_s(k) - part * dt_s / 2, combine(u_of_width((1 - part) * dt_s), u_hidden_s)};
}

}  // namespace airlatch
