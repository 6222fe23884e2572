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
constexpr double kBounce_s = 0.015;    // contacts settle within (common practice, no source)
constexpr double kZeroMemory_s = 2.0;  // a clamp drifts more slowly than this
constexpr double kZeroGuard_s = 0.03;  // a start under way must not enter the zero
// Standard deviations of a slow meter's reading, told from few: five, and what those few may lack.
constexpr double kScatter = 7;
constexpr double kYoung_s = 1;          // flicker shows as much again in so long
constexpr double kElsewhere_s = 0.5;    // a start is over sooner, and has drawn more
constexpr double kSmooth_s = 0.01;      // interruptions shorter than this are lost in strong noise
constexpr double kBrake_s = 0.15;       // a motor that is shorted stands still within (same)
constexpr double kSourced = 0.4;        // of the drop that the source would show
constexpr double kDeclines = 0.6;       // of the mean just before: less is a fall
constexpr double kDirect = 0.5;         // of its mean magnitude: less is an alternating current
constexpr double kLargestZero_a = 0.5;  // more than this at the first sample is a running motor
constexpr double kLevelMemory_s = 0.05;

constexpr double kSourceLook_s = 0.02;  // a source's sag shows in it, in spite of the noise
constexpr double kFalls = 0.2;          // of an inrush: more than the commutator's ripple
constexpr double kFeedFalls = 0.1;      // of a contact's voltage: more than hum and sag
constexpr double kHiddenPeak = 0.1;     // of a peak that lasts less than a sample (same)
constexpr double kPart = 0.05;          // of a step: more than a source's sag in one sample
constexpr double kLost_s = 0.05;        // a step that noise displaces by more would not be found
constexpr double kTogether_s = 0.003;   // a contact and the current through it rise within

struct Peak {
  double value = 0, u = 0, time_s = 0;
};

// How far noise displaces a step of this size: a random walk of the likelihood (Hinkley, Biometrika 57
// (1970) 1): its spread is 3 (noise / step)^2 samples or less.
double lost_s(const Track& track, double step) {
  return std::min(3 * elementary::square(track.noise() / step) * track.period_s(), kLost_s);
}

// Two fits of the same samples, weighted by their likelihoods.
StartTransient both_of(const StartTransient& a, const StartTransient& b) {
  const double share =
      1 / (1 + elementary::exp(std::clamp((a.misfit - b.misfit) / 2, -50.0, 50.0)));
  const auto mixed = [share](const Uncertain& x, const Uncertain& y) {
    const double value = share * x.value + (1 - share) * y.value;
    const double between2 = share * (1 - share) * elementary::square(x.value - y.value);
    return Uncertain{value, std::sqrt(share * x.u * x.u + (1 - share) * y.u * y.u + between2)};
  };
  return {mixed(a.start_s, b.start_s), mixed(a.peak, b.peak), share > 0.5 ? a.peak_s : b.peak_s,
          std::min(a.misfit, b.misfit)};
}

// The inrush peak in [k0, k1): the largest 3-sample median (a single spike is no peak), then the
// vertex of a parabola through the samples near it, which noise does not push upwards as it does
// the largest sample.
Peak inrush_peak(const Track& track, const TwoState::View& view, std::int64_t k0, std::int64_t k1,
                 double rest_noise) {
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
      // The peak holds the ripple of its own instant, which nobody knows.
      const double ripple2 = std::max(0.0, s * s - rest_noise * rest_noise);
      return {vertex, combine(1.5 * s / std::sqrt(n), 0.3 * s, std::sqrt(ripple2)),
              mid_s - b / (2 * c) * half_s};
    }
  }
  // Few samples over the top: the vertex through the three highest, half of its lead over them
  // being its uncertainty, since the current rises faster than it falls.
  double lead = 0;
  if (top > k0 && top + 1 < k1) {
    const double left = v(top - 1), right = v(top + 1), bend = left - 2 * v(top) + right;
    if (bend < 0) lead = std::min(-(left - right) * (left - right) / (8 * bend), 0.1 * highest);
  }
  // It falls by so much from one sample to the next; how much of that lies before the highest one is
  // not seen.
  const double falls = top + 1 < k1 ? std::max(0.0, highest - v(top + 1)) : 0;
  return {highest + lead,
          combine(noise, 0.5 * lead, 0.01 * highest * (lead > 0 ? 1 : 0), 0.7 * falls),
          track.time_s(top)};
}

// The start: the 10 % instant before sample k, the first above it. Current in a winding rises as
// 1 - exp(-t/tau); where k is the first of several samples of the rise the curve is followed back from
// samples k and k+1. Where the samples are too far apart to show it, and may be means over their
// intervals (not `instants`), only the interval is known.
Uncertain start_instant(const Track& track, const TwoState::View& view, std::int64_t k, double peak,
                        double average_s, bool instants) {
  const double level = 0.1 * peak;
  if (k <= track.begin() || k + 1 >= track.end() || track.slow())
    return crossing_instant(track, view, k, level, 0, peak, average_s);
  const double v0 = view.of(track.value(k - 1)), v1 = view.of(track.value(k)),
               v2 = view.of(track.value(k + 1));
  const double dt_s = track.time_s(k) - track.time_s(k - 1);
  const bool first_of_rise = v0 < std::max(0.05 * peak, 2 * track.noise());
  const bool follows = instants || dt_s <= kDense_s;
  if (!first_of_rise && follows) return crossing_instant(track, view, k, level, 0, peak, average_s);
  if (!follows || v1 > 0.85 * peak || v2 <= v1)
    return {track.time_s(k) - dt_s / 2, u_of_width(dt_s)};
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
  // A curve that is nearly at its top tells nothing; the interval is known all the same.
  const double u_noise_s = slope > 0 ? std::min(track.noise() / slope, dt_s) : dt_s;
  return {std::clamp(t_s, track.time_s(k - 1), track.time_s(k)),
          combine(u_noise_s, 0.3 * u_of_width(dt_s))};
}

// The first sample of [from, to) behind a step between 0 and `level`, up or down: least squares of two
// constants, which is the largest deficit of the running sum.
std::int64_t step_at(const Track& track, const TwoState::View& view, std::int64_t from,
                     std::int64_t to, double level, bool up) {
  double sum = 0, least = 0;
  std::int64_t at = from;
  for (std::int64_t k = from; k < to; ++k) {
    const double over = view.of(track.value(k)) - level / 2;
    sum += up ? over : -over;
    if (sum < least) {
      least = sum;
      at = k + 1;
    }
  }
  return at;
}
}  // namespace

double MotorCurrent::least() const {
  const double averaged = static_cast<double>(smooth_n_);
  return std::max(
      {kLeastCurrent_a, 6 * context_.current_noise_a / std::sqrt(averaged),
       6 * std::sqrt(rest_variance_ * (1 + kYoung_s / std::max(rested_s_, kYoung_s / 20)))});
}

void MotorCurrent::on_tick(double now_s) {
  if (raw().empty()) return;
  smooth();
  if (!current().empty()) advance(now_s, false);
}

void MotorCurrent::finish(double end_s) {
  if (current().empty()) return;
  advance(end_s, true);
  if (state_ == State::kLow || state_ == State::kBack) {
    dip_.what = Edge::What::kMotorOff;
    emit(dip_);
    state_ = State::kOff;
  }
}

// Strong noise hides single readings, not what lasts: from the first slice it is known how many
// readings are averaged before anything is decided.
void MotorCurrent::smooth() {
  const Track& all = raw();
  if (!smooth_known_) {
    smooth_known_ = true;
    const double needed = elementary::square(6 * all.noise() / kLeastCurrent_a);
    const double most = std::floor(kSmooth_s / std::max(all.period_s(), 1e-9));
    if (!all.slow())
      smooth_n_ = static_cast<std::int64_t>(std::clamp(needed, 1.0, std::max(most, 1.0)));
    smoothed_ = all.begin();
  }
  if (smooth_n_ == 1) return;
  smoothed_ = std::max(smoothed_, all.begin());
  std::vector<std::int64_t> times_ns;
  std::vector<float> values;
  for (; smoothed_ + smooth_n_ <= all.end(); smoothed_ += smooth_n_) {
    const std::int64_t to = smoothed_ + smooth_n_;
    times_ns.push_back(std::llround(all.mean_time_s(smoothed_, to) * 1e9));
    values.push_back(
        static_cast<float>(sum(all.values(smoothed_, to)) / static_cast<double>(smooth_n_)));
  }
  smooth_.append(SampleBlock{.role = Role::MOTOR_CURRENT, .times_ns = times_ns, .values = values},
                 0);
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
        more = step_on(last);
        break;
      case State::kLow:
        more = step_low(now_s, last);
        break;
      case State::kBack:
        more = step_back(now_s, last);
        break;
    }
  }
}

void MotorCurrent::follow_zero(double now_s) {
  const double to_s = now_s - kZeroGuard_s;
  const double from_s = std::max(zero_until_s_, off_since_s_);
  if (!zero_known_) {
    auto first = current().mean(current().time_s(current().begin()), now_s);
    if (!first) return;
    zero_known_ = true;
    context_.current_noise_a = raw().noise();
    const double leads = current().value(current().begin());
    // A start within the first moments: the first reading is from before it.
    if (std::abs(first->value - leads) > kLargestZero_a) {
      first->value = leads;
      context_.current_noise_a = 0;  // what was seen so far is no rest
    }
    const auto& entry = context_.entry(Role::MOTOR_CURRENT);
    const bool unfed = (context_.has(Role::FEED_A_VOLTAGE) && context_.has(Role::FEED_B_VOLTAGE)) &&
                       context_.fed_contact(0, now_s) == Contact::NONE;
    if (std::abs(first->value) <= kLargestZero_a || entry.auto_zero || unfed) {
      zero_ = first->value;
    } else {  // it runs already: its start cannot be reported, but its stop can
      context_.current_noise_a = 0;
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
    zero_span_s_ = now_s;
    return;
  }
  if (to_s <= from_s) return;
  const std::int64_t from = current().first_at_or_after(from_s);
  const std::int64_t to = current().first_at_or_after(to_s);
  zero_until_s_ = to_s;
  context_.current_noise_a = raw().noise();
  if (from >= to) return;
  const double rest = sum(current().values(from, to)) / static_cast<double>(to - from);
  if (std::abs(rest - zero_) > least() / 2 && !stands_elsewhere(rest, from_s, to_s)) return;
  const double share = 1 - elementary::exp(-(to_s - from_s) / kZeroMemory_s);
  // A quarter of them tells how far readings at rest stray from it: white noise, hum and flicker.
  const std::int64_t some = from + std::max<std::int64_t>(1, (to - from) / 4);
  const double strayed =
      squares_about(current().values(from, some), zero_) / static_cast<double>(some - from);
  rested_s_ += to_s - from_s;
  const double weight = std::max(share, std::min(1.0, (to_s - from_s) / rested_s_));
  rest_variance_ += weight * (std::min(strayed, elementary::square(least())) - rest_variance_);
  zero_ += share * (rest - zero_);
  zero_span_s_ = std::min(zero_span_s_ + to_s - from_s, 2 * kZeroMemory_s);
}

// A clamp that stands at another zero after a shock, or after a run's magnetism, shows it for longer
// than any start takes; a motor would have drawn its inrush.
bool MotorCurrent::stands_elsewhere(double rest, double from_s, double to_s) {
  if (std::abs(rest - elsewhere_) > least() / 2) {
    elsewhere_ = rest;
    elsewhere_since_s_ = from_s;
  }
  if (to_s - elsewhere_since_s_ < kElsewhere_s) return false;
  zero_ = elsewhere_;
  zero_span_s_ = to_s - elsewhere_since_s_;
  return true;
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
  if (!is_direct(rise_s)) {
    state_ = State::kOff;
    two_state_.set_up(false);
    two_state_.skip_to(current().first_at_or_after(rise_s + kInrush_s));
    return true;
  }
  announce_start();
  state_ = State::kOn;
  return true;
}

// A motor's current has a direction, whatever its ripple; a sine from a sound card has none.
bool MotorCurrent::is_direct(double from_s) const {
  const Track& track = current();
  if (track.slow()) return true;
  double sum_a = 0, sizes_a = 0;
  for (std::int64_t k = track.first_at_or_after(from_s);
       k < track.end() && track.time_s(k) < from_s + kInrush_s; ++k) {
    const double v = track.value(k) - zero_;
    if (std::abs(v) < 0.5 * least()) continue;
    sum_a += v;
    sizes_a += std::abs(v);
  }
  return std::abs(sum_a) >= kDirect * sizes_a;
}

// Where the rise lies between a few samples, a fit of the whole transient is better than
// interpolation. Whether a reading is the value at its instant or the mean over its interval is the
// instrument's secret: both are fitted and weighted by their likelihoods.
std::optional<StartTransient> MotorCurrent::fitted_start(std::int64_t k,
                                                         std::optional<bool> averages) const {
  const Track& track = raw();
  const double period_s = track.period_s();
  if (period_s < kDense_s || period_s > kSparse_s || k < track.begin() + 3) return std::nullopt;
  std::vector<double> times_s, currents_a;
  for (std::int64_t i = k - 3; i < track.end() && track.time_s(i) < track.time_s(k) + kTransient_s;
       ++i) {
    if (context_.at_limit(Role::MOTOR_CURRENT, track.value(i))) return std::nullopt;
    times_s.push_back(track.time_s(i));
    currents_a.push_back(rising_view().of(track.value(i)));
  }
  const double noise_a = std::max(track.noise(), 1e-4);
  const auto fit = [&](double mean_s) {
    return fit_start_transient(times_s, currents_a, noise_a, track.time_s(k - 1),
                               track.time_s(k) + mean_s / 2, mean_s);
  };
  if (averages) return fit(*averages ? period_s : 0);
  const auto instant = fit(0), mean = fit(period_s);
  return instant && mean ? both_of(*instant, *mean) : mean ? mean : instant;
}

// Whether this instrument's samples are means over their intervals: a contact closes at once, so that
// its voltage shows a part of the step in a mean, and none in a value at an instant.
std::optional<bool> MotorCurrent::averaged(double start_s) const {
  const Contact contact = context_.fed_contact(start_s + 0.002, start_s + 0.05);
  const Track& feed = context_.track(CaptureContext::feed_role(contact));
  if (contact == Contact::NONE || feed.empty() || feed.period_s() != raw().period_s())
    return std::nullopt;
  const auto off = feed.mean(start_s - 0.1, start_s - kBounce_s);
  const auto on = feed.mean(start_s + 0.02, start_s + 0.05);
  if (!off || !on || off->value > 0.3 * on->value) return std::nullopt;
  const double step_v = on->value - off->value;
  std::int64_t k = std::max(feed.first_at_or_after(start_s - kTogether_s), feed.begin() + 2);
  while (k + 2 < feed.end() && feed.value(k) < off->value + step_v / 2) ++k;
  if (k + 2 >= feed.end()) return std::nullopt;
  const double least_v = std::max(kPart * step_v, 6 * feed.noise());
  return feed.value(k - 1) - feed.value(k - 2) > least_v ||
         feed.value(k + 1) - feed.value(k) > least_v;
}

// Of a bouncing contact's touches one may be higher than what the current settles to, and rises within
// a sample or two: it is known to what it rose by in the last of them.
void MotorCurrent::highest_touch(std::int64_t first, Edge& edge) const {
  const Track& track = raw();
  const TwoState::View seen = rising_view();
  const auto v = [&](std::int64_t i) { return seen.of(track.value(i)); };
  std::int64_t top = first;
  for (std::int64_t i = first; i < track.end() && track.time_s(i) < edge.time_s + 2 * kBounce_s;
       ++i)
    if (v(i) > v(top)) top = i;
  const double highest = std::max(edge.after, v(top));
  const double rises = top > track.begin() ? std::max(0.0, v(top) - v(top - 1)) : 0;
  if (highest > edge.after) edge.level_time_s = track.time_s(top);
  edge.after = highest;
  edge.level_u = combine(edge.level_u, std::min(0.5 * rises, kHiddenPeak * highest));
}

// The instant and peak of the start whose first sample above the threshold is at rise_k_.
Edge MotorCurrent::resolved_start() const {
  const Track& track = raw();
  const TwoState::View seen = rising_view();
  const auto v = [&](std::int64_t i) { return seen.of(track.value(i)); };
  const double rise_s = current().time_s(std::max(rise_k_, current().begin()));
  const double bin_s = current().period_s();
  std::int64_t k = smooth_n_ > 1 ? track.first_at_or_after(rise_s - 1.5 * bin_s) : rise_k_;
  k = std::max(k, track.begin());
  const std::int64_t until = track.first_at_or_after(rise_s + kInrush_s);
  const Peak peak = inrush_peak(track, seen, k, std::max(until, k + 1), context_.current_noise_a);
  const double level = 0.1 * peak.value;
  Edge edge{.what = Edge::What::kMotorOn};
  edge.after = peak.value;
  edge.level_u = peak.u;
  edge.level_time_s = peak.time_s;
  edge.sign = seen.sign;
  if (4 * track.noise() > level) {  // its 10 % are lost in the noise, most of it is not
    const std::int64_t to = track.first_at_or_after(rise_s + 1.5 * bin_s);
    k = std::max(step_at(track, seen, k, to, peak.value, true), track.begin() + 1);
    const double dt_s = track.time_s(k) - track.time_s(k - 1);
    edge.time_s = track.time_s(k) - dt_s / 2;
    edge.u_s = combine(u_of_width(dt_s), lost_s(track, peak.value));
    return edge;
  }
  while (k > track.begin() && v(k - 1) > level) --k;
  while (k + 1 < until && v(k) <= level) ++k;
  if (k > track.begin() && track.time_s(k) - track.time_s(k - 1) > 3 * track.period_s()) {
    // It lies where samples are missing.
    edge.time_s = (track.time_s(k - 1) + track.time_s(k)) / 2;
    edge.u_s = u_of_width(track.time_s(k) - track.time_s(k - 1));
    return edge;
  }
  const auto first = first_touch(track, seen, k, 0, peak.value, kFalls);
  const double average_s = context_.entry(Role::MOTOR_CURRENT).average_s;
  const auto means = first ? std::nullopt : averaged(track.time_s(k));
  const bool instants = means && !*means;
  const Uncertain t = first ? touch_instant(track, seen, *first, 0, peak.value)
                            : start_instant(track, seen, k, peak.value, average_s, instants);
  edge.time_s = t.value;
  edge.u_s = t.u;
  if (first) highest_touch(*first, edge);
  const auto fitted = first ? std::nullopt : fitted_start(k, means);
  if (fitted) {
    edge.time_s = fitted->start_s.value;
    edge.u_s = combine(fitted->start_s.u, 0.06 * track.period_s());
    edge.after = fitted->peak.value;
    edge.level_u = fitted->peak.u;
    edge.level_time_s = fitted->peak_s;
  }
  if (context_.at_limit(Role::MOTOR_CURRENT, zero_ + edge.sign * peak.value)) {
    // The true peak lies beyond the sensor's range, by a factor of 3 at most: so does its 10 %.
    std::int64_t later = k;
    while (later + 1 < until && v(later) <= 3 * level) ++later;
    const double late_s =
        start_instant(track, seen, later, 3 * peak.value, average_s, instants).value - edge.time_s;
    if (late_s > 0) {
      edge.time_s += late_s / 2;
      edge.u_s = combine(edge.u_s, u_of_width(late_s));
    }
  }
  return edge;
}

// The current with the sign it rises with: what another run drew before it counts against it.
TwoState::View MotorCurrent::rising_view() const {
  const Track& track = current();
  return {.zero = zero_,
          .sign = track.value(std::max(rise_k_, track.begin())) < zero_ ? -1.0 : 1.0};
}

Edge MotorCurrent::slow_start() const {
  const Track& track = raw();
  const std::int64_t k = std::max(rise_k_, track.begin());
  Edge edge{.what = Edge::What::kMotorOn};
  edge.level_seen = false;
  edge.after = view().of(track.value(k));
  edge.sign = track.value(k) < zero_ ? -1 : 1;
  const Uncertain t = crossing_instant(track, view(), k, 0.1 * edge.after, 0, edge.after,
                                       context_.entry(Role::MOTOR_CURRENT).average_s);
  edge.time_s = t.value;
  edge.u_s = t.u;
  return edge;
}

// A motor draws nothing before its contact is fed, and at once when it is: where both rise together,
// the voltage, which needs no time to rise, tells the first touch.
void MotorCurrent::not_before_feed(Edge& edge) const {
  const Track& feed = context_.track(CaptureContext::feed_role(edge.contact));
  // What nobody saw (a gap) is not told by where the next reading lies.
  if (edge.contact == Contact::NONE || feed.empty() || feed.slow() || edge.u_s > kTogether_s)
    return;
  const double t_s = edge.time_s;
  const auto off = feed.mean(t_s - 0.1, t_s - kBounce_s);
  const auto on = feed.mean(t_s + 0.02, t_s + 0.05);
  if (!off || !on || off->value > 0.3 * on->value) return;
  const double half_v = (off->value + on->value) / 2;
  const double together_s = std::max(kTogether_s, 2 * feed.period_s());
  std::int64_t k = std::max(feed.first_at_or_after(t_s - together_s), feed.begin() + 1);
  while (k + 1 < feed.end() && feed.value(k) <= half_v) ++k;
  const auto first = first_touch(feed, {}, k, off->value, on->value, kFeedFalls);
  const Uncertain fed = first ? touch_instant(feed, {}, *first, off->value, on->value)
                              : crossing_instant(feed, {}, k, half_v, off->value, on->value);
  const double early_s = fed.value - t_s;
  if (early_s > feed.period_s()) return;  // the current itself has seen an earlier touch
  const bool bounced = first && early_s < 0;
  const bool resolved = fed.u < std::min(edge.u_s, 0.8 * u_of_width(feed.period_s()));
  const bool before = early_s > std::sqrt(3.0) * fed.u || (early_s > 0 && resolved);
  if (!bounced && !before) return;
  edge.time_s = fed.value;
  edge.u_s = std::max(fed.u, bounced ? 0.0 : 0.5 * edge.u_s);
}

void MotorCurrent::announce_start() {
  const Track& track = current();
  Edge edge = track.slow() ? slow_start() : resolved_start();
  edge.zero = zero_;
  edge.zero_span_s = zero_span_s_;
  level_ = edge.after;
  settled_ = false;
  level_until_s_ =
      track.slow() ? track.time_s(std::max(rise_k_, track.begin())) : edge.time_s + kInrush_s;
  two_state_.set_up(true);
  two_state_.skip_to(track.slow() ? std::max(rise_k_, track.begin()) + 1
                                  : track.first_at_or_after(edge.time_s + kBounce_s));
  const double look_s = track.slow() ? track.period_s() : 0.1;
  run_contact_ = context_.fed_contact(edge.time_s + 0.002, edge.time_s + look_s);
  run_sign_ = edge.sign;
  edge.contact = run_contact_;
  not_before_feed(edge);
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

// A level below which it no longer runs. A meter of few readings shows a motor's ripple and load in
// each of them: what lies within their scatter is no stop.
double MotorCurrent::down_level() const {
  // Before the inrush is over the running level is not known: only a fall to nothing counts.
  const double nothing = 0.7 * least();
  if (!settled_) return nothing;
  if (!current().slow()) return std::max(nothing, 0.5 * level_);
  return std::max(std::min(nothing, 0.5 * level_),
                  std::clamp(level_ - kScatter * current().noise(), 0.15 * level_, 0.5 * level_));
}

// Whether a slow meter's readings of a running motor scatter as far as to nothing.
bool MotorCurrent::scatters() const {
  return current().slow() && settled_ && level_ - kScatter * current().noise() < 0.15 * level_;
}

// The instant of a fall to, or a return from, nothing.
Uncertain MotorCurrent::edge_instant(std::int64_t k, double running, bool up) const {
  const TwoState::View seen{.zero = zero_, .sign = run_sign_};
  const Uncertain t = crossing_instant(current(), seen, k, 0.5 * running, 0, running,
                                       context_.entry(Role::MOTOR_CURRENT).average_s);
  if (smooth_n_ == 1) return t;
  const double bin_s = current().period_s();
  const Track& all = raw();
  const std::int64_t from = std::max(all.first_at_or_after(t.value - 1.5 * bin_s), all.begin() + 1);
  const std::int64_t to = all.first_at_or_after(t.value + 1.5 * bin_s);
  if (from >= to) return t;
  const std::int64_t at = std::min(step_at(all, seen, from, to, running, up), all.end() - 1);
  const double dt_s = all.time_s(at) - all.time_s(at - 1);
  return {all.time_s(at) - dt_s / 2, combine(u_of_width(dt_s), lost_s(all, running))};
}

bool MotorCurrent::step_on(bool last) {
  const Track& track = current();
  const TwoState::View seen{.zero = zero_, .sign = run_sign_};
  const double down = down_level();
  const auto change = two_state_.advance(track, seen, std::max(least(), down * 1.2), down, last);
  if (!change) {
    if (two_state_.next() >= track.end()) follow_level();
    return false;
  }
  std::int64_t k = change->k;
  if (scatters()) {  // one reading far off is scatter still, two in a row are not
    const bool second = low_ && *low_ == k - 1;
    low_ = k;
    if (!second) {
      two_state_.set_up(true);
      return true;
    }
  }
  const double t_s = track.time_s(k);
  const auto v = [&](std::int64_t i) { return seen.of(track.value(i)); };
  const auto before = track.mean(t_s - 0.05, t_s - 0.002);
  double running = track.slow() || !before ? level_ : run_sign_ * (before->value - zero_);
  if (running < down) running = level_;
  const auto fallen = track.mean(t_s, t_s + TwoState::kConfirm_s);
  if (!track.slow() && before && fallen && seen.of(fallen->value) > kDeclines * running) {
    // No fall: an inrush that takes its time, or a load that goes.
    level_ = seen.of(fallen->value);
    level_until_s_ = t_s;
    two_state_.set_up(true);
    return true;
  }
  while (k > track.begin() && v(k - 1) < 0.5 * running) --k;
  const Uncertain t = edge_instant(k, running, false);
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
    rise_k_ = change->k;
    state_ = State::kBack;
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

// The current is back after a fall: an interruption that is over, another run, or a motor that brakes
// itself through a short, whose current no source feeds and which dies with the speed.
bool MotorCurrent::step_back(double now_s, bool last) {
  const Track& track = current();
  const double t_s = track.time_s(std::max(rise_k_, track.begin()));
  const double sign = track.value(std::max(rise_k_, track.begin())) < zero_ ? -1 : 1;
  if (!track.slow()) {
    if (now_s < t_s + kBrake_s && !last && (sign != run_sign_ || now_s < t_s + kSourceLook_s))
      return false;
    if (sign != run_sign_ || !from_source(t_s)) {
      if (now_s < t_s + kBrake_s && !last) return false;
      const auto late = track.mean(t_s + 0.8 * kBrake_s, t_s + kBrake_s);
      if (!late || std::abs(late->value - zero_) < std::max(least(), 0.5 * dip_.before)) {
        two_state_.set_up(false);
        two_state_.skip_to(track.first_at_or_after(t_s + kBrake_s));
        state_ = State::kLow;
        return true;
      }
    }
  }
  const double look_s = track.slow() ? track.period_s() : 0.02;
  const Contact contact = context_.fed_contact(t_s, t_s + look_s);
  const bool same = sign == run_sign_ && (contact == run_contact_ || contact == Contact::NONE ||
                                          run_contact_ == Contact::NONE);
  const Uncertain t = same ? edge_instant(rise_k_, dip_.before, true) : Uncertain{};
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
    state_ = State::kRising;
  }
  return true;
}

// Whether the source feeds the current that is back at t_s: it sags as it did under the run's. Where
// no voltage shows it, it is taken to.
bool MotorCurrent::from_source(double t_s) const {
  const Role feed = CaptureContext::feed_role(run_contact_);
  const Role role =
      run_contact_ != Contact::NONE && context_.has(feed) ? feed : Role::SUPPLY_VOLTAGE;
  const Track& volts = context_.track(role);
  if (volts.empty() || volts.slow()) return true;
  const double dt_s = 1.5 * std::max(volts.period_s(), current().period_s());
  const auto loaded = volts.mean(dip_.time_s - 0.05, dip_.time_s - 0.004);
  const auto free = volts.mean(dip_.time_s + dt_s, t_s - dt_s);
  const auto now = volts.mean(t_s + dt_s, t_s + kSourceLook_s);
  const auto drawn = current().mean(t_s + dt_s, t_s + kSourceLook_s);
  if (!loaded || !free || !now || !drawn) return true;
  const double sag_v = free->value - loaded->value;
  const double noise_v = volts.noise() / std::sqrt(static_cast<double>(free->n));
  if (sag_v < 5 * noise_v) return true;
  const double expected_v = sag_v * std::abs(drawn->value - zero_) / dip_.before;
  return free->value - now->value > kSourced * expected_v;
}

}  // namespace airlatch
