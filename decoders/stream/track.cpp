// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/stream/track.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "decoders/method/elementary.hpp"
#include "decoders/method/uncertainty.hpp"

namespace airlatch {

constexpr double kMostRoom = 1e6;  // asked for before there is anything to put in

const Track::Stretch& Track::older_stretch_of(std::int64_t k) const {
  auto next = std::upper_bound(stretches_.begin(), stretches_.end(), k,
                               [](std::int64_t n, const Stretch& s) { return n < s.from; });
  return next == stretches_.begin() ? *next : *std::prev(next);
}

void Track::append(const SampleBlock& scaled, std::int64_t t0_ns) {
  if (scaled.values.empty()) return;
  const std::size_t from = values_.size(), before = from > 0 ? from - 1 : 0;
  latest_.from = end();
  if (!scaled.times_ns.empty() && !own_times_) {
    for (std::int64_t k = begin(); k < end(); ++k) times_s_.push_back(time_s(k));
    own_times_ = true;
  }
  // Most often all are sound: looked at where they will stay.
  if (values_.capacity() == 0 && scaled.clock.num_ns > 0)  // room for all that will be kept
    values_.reserve(
        static_cast<std::size_t>(std::min(3 * kKept_s / scaled.clock.period_s(), kMostRoom)));
  values_.insert(values_.end(), scaled.values.begin(), scaled.values.end());
  Extremes found = extremes_of(std::span(values_).subspan(before));
  latest_.extremes = found;
  if (!found.all_finite || own_times_) {
    values_.resize(from);
    if (own_times_)
      append_own_times(scaled, t0_ns);
    else
      append_even(scaled, t0_ns);
    found = extremes_of(std::span(values_).subspan(before));
  } else {
    join(scaled, t0_ns, 0, latest_.from);
    next_ = scaled.first + std::ssize(scaled.values);
  }
  if (plain_) {
    latest_.extremes.least = -std::numeric_limits<float>::infinity();
    latest_.extremes.most = -latest_.extremes.least;
    latest_.extremes.all_finite = false;
  }
  if (values_.size() == from) return;
  learn_noise(from, found);
  trim();
}

// The sample at `i` of a block, number `k` here: on the newest stretch, or the first of another.
void Track::join(const SampleBlock& scaled, std::int64_t t0_ns, std::size_t i, std::int64_t k) {
  const bool joins = !stretches_.empty() && scaled.clock == clock_ &&
                     scaled.first + static_cast<std::int64_t>(i) == next_;
  next_ = scaled.first + static_cast<std::int64_t>(i) + 1;
  if (joins) return;
  clock_ = scaled.clock;
  period_s_ = scaled.clock.period_s();
  stretches_.push_back({k, static_cast<double>(scaled.time_ns(i) - t0_ns) * 1e-9, period_s_,
                        period_s_ > 0 ? 1 / period_s_ : 0});
}

void Track::append_even(const SampleBlock& scaled, std::int64_t t0_ns) {
  for (std::size_t i = 0; i < scaled.values.size(); ++i) {
    if (!std::isfinite(scaled.values[i])) continue;
    join(scaled, t0_ns, i, end());
    values_.push_back(scaled.values[i]);
  }
}

void Track::append_own_times(const SampleBlock& scaled, std::int64_t t0_ns) {
  const bool even = scaled.times_ns.empty();
  const std::size_t from = values_.size();
  for (std::size_t i = 0; i < scaled.values.size(); ++i) {
    if (!std::isfinite(scaled.values[i])) continue;
    times_s_.push_back(static_cast<double>(scaled.time_ns(i) - t0_ns) * 1e-9);
    values_.push_back(scaled.values[i]);
  }
  if (even) period_s_ = scaled.clock.period_s();
  for (std::size_t i = std::max<std::size_t>(from, 1); !even && i < values_.size(); ++i) {
    const double spacing_s = times_s_[i] - times_s_[i - 1];
    // A pause is not the meter's usual spacing: it counts as at most twice the present spacing.
    period_s_ = period_s_ == 0 ? spacing_s
                               : period_s_ + 0.1 * (std::min(spacing_s, 2 * period_s_) - period_s_);
  }
}

// Rarely and in large amounts, so that moving the rest costs little.
void Track::trim() {
  const double oldest_s = time_s(end() - 1) - kKept_s;
  if (time_s(begin()) >= oldest_s - 2 * kKept_s) return;
  const auto cut =
      std::min<std::ptrdiff_t>(first_at_or_after(oldest_s) - base_, std::ssize(values_) - 2);
  values_.erase(values_.begin(), values_.begin() + cut);
  if (own_times_) times_s_.erase(times_s_.begin(), times_s_.begin() + cut);
  base_ += cut;
  std::size_t past = 0;
  while (past + 1 < stretches_.size() && stretches_[past + 1].from <= base_) ++past;
  stretches_.erase(stretches_.begin(), stretches_.begin() + static_cast<std::ptrdiff_t>(past));
}

void Track::learn_slow_noise(std::size_t from) {
  for (std::size_t i = std::max<std::size_t>(from, 1); i < values_.size(); ++i) {
    recent_.push_back(
        std::abs(static_cast<double>(values_[i]) - static_cast<double>(values_[i - 1])));
    if (recent_.size() > kRecent) recent_.erase(recent_.begin());
  }
  if (recent_.empty()) return;
  std::vector<double> sorted = recent_;
  std::sort(sorted.begin(), sorted.end());
  // Median magnitude of a normal difference: 0.6745 sqrt 2 standard deviations.
  const double sd = sorted[sorted.size() / 2] / (0.6745 * std::sqrt(2.0));
  variance_ = sd * sd;
}

// Steps of the signal are not noise; once the noise is known they are limited to 4 of its standard
// deviations.
double Track::noise_limit() const {
  return learnt_ >= 16 ? 32 * std::max(variance_, step_ * step_ / 12)
                       : std::numeric_limits<double>::infinity();
}

void Track::learn_noise(std::size_t from, const Extremes& all) {
  const bool moves = all.least < all.most;
  moved_ = moved_ || moves;
  const auto slice = std::span(values_).subspan(from > 0 ? from - 1 : 0);
  auto looked_at = slice.first(std::min(slice.size(), kLearnt_from));
  const auto limit = static_cast<float>(noise_limit());
  Changes found = changes_of(looked_at, limit);
  if (found.least == 0 && moves) {  // a coarse converter's step is among the others
    looked_at = slice;
    found = changes_of(slice, limit);
  }
  const auto least = static_cast<double>(found.least);
  if (least > 0 && (step_ == 0 || least < step_)) step_ = least;
  if (slow()) {
    learn_slow_noise(from);
    return;
  }
  const auto n = std::ssize(looked_at) - 1;
  if (n <= 0) return;
  const double now = found.squares / static_cast<double>(2 * n);
  const double weight =
      static_cast<double>(n) / static_cast<double>(std::min<std::int64_t>(learnt_, 4000) + n);
  variance_ += weight * (now - variance_);
  learnt_ += n;
}

double Track::noise() const { return std::sqrt(std::max(variance_, step_ * step_ / 12)); }

double Track::quantisation_error() const {
  if (step_ == 0)  // it never changed: what is known is how its numbers are kept
    return empty() ? 0 : u_of_width(std::numeric_limits<float>::epsilon() * value(end() - 1));
  const double noise2 = std::max(0.0, variance_ - step_ * step_ / 12);
  return step_ / std::numbers::pi / std::numbers::sqrt2 *
         elementary::exp(-2 * std::numbers::pi * std::numbers::pi * noise2 / (step_ * step_));
}

std::int64_t Track::first_at_or_after(double t_s) const {
  if (own_times_)
    return base_ + (std::lower_bound(times_s_.begin(), times_s_.end(), t_s) - times_s_.begin());
  // The last stretch that begins before t; most questions are about the newest.
  auto next = stretches_.end();
  if (stretches_.empty() || !(stretches_.back().start_s < t_s))
    next = std::partition_point(stretches_.begin(), stretches_.end(),
                                [t_s](const Stretch& s) { return s.start_s < t_s; });
  if (next == stretches_.begin()) return base_;
  const Stretch& stretch = *std::prev(next);
  const std::int64_t least = std::max(stretch.from, base_);
  const std::int64_t most = next == stretches_.end() ? end() : std::max(next->from, base_);
  const double steps = (t_s - stretch.start_s) * stretch.rate_hz;
  const double most_steps = static_cast<double>(most - stretch.from);
  std::int64_t k = steps < most_steps ? stretch.from + static_cast<std::int64_t>(steps) : most;
  k = std::clamp(k, least, most);
  // What rounding has put on the wrong side.
  while (k > least && stretch.time_s(k - 1) >= t_s) --k;
  while (k < most && stretch.time_s(k) < t_s) ++k;
  return k;
}

std::int64_t Track::beside(std::int64_t own_from, std::int64_t own_to, const Track& other) const {
  if (own_times_ || other.own_times_ || empty() || other.empty()) return -1;
  const Stretch &mine = stretches_.back(), &theirs = other.stretches_.back();
  if (mine.start_s != theirs.start_s || mine.period_s != theirs.period_s) return -1;
  const std::int64_t from = own_from - mine.from + theirs.from, to = from + (own_to - own_from);
  const bool all =
      own_from >= mine.from && from >= std::max(theirs.from, other.begin()) && to <= other.end();
  return all ? from : -1;
}

double Track::mean_time_s(std::int64_t from, std::int64_t to) const {
  if (!own_times_ && from >= stretches_.back().from) return (time_s(from) + time_s(to - 1)) / 2;
  double sum_s = 0;
  for (std::int64_t k = from; k < to; ++k) sum_s += time_s(k) - time_s(from);
  return time_s(from) + sum_s / static_cast<double>(to - from);
}

double Track::Mean::u() const {
  const double resolution = u_of_width(std::numeric_limits<float>::epsilon() * value);
  return n > 0 ? std::max(sd / std::sqrt(static_cast<double>(n)), resolution) : 0;
}

std::optional<Track::Mean> Track::mean(double from_s, double to_s) const {
  const std::int64_t first = first_at_or_after(from_s), last = first_at_or_after(to_s);
  if (first >= last) return std::nullopt;
  Mean m{.value = 0, .sd = 0, .n = last - first};
  const std::span<const float> values = this->values(first, last);
  m.value = sum(values) / static_cast<double>(m.n);
  const double squares = squares_about(values, m.value);
  if (m.n > 1) m.sd = std::sqrt(squares / static_cast<double>(m.n - 1));
  return m;
}

double Track::at_time(double t_s) const { return before(first_at_or_after(t_s), t_s); }

Track::Beside::Beside(const Track& track, const Track& clock, std::int64_t from, std::int64_t to)
    : track_(track), clock_(clock) {
  const std::int64_t first = from < to ? clock.beside(from, to, track) : -1;
  shared_ = first >= 0;
  shift_ = first - from;
}

double Track::Beside::later(double t_s) {
  if (!asked_) k_ = track_.first_at_or_after(t_s);
  asked_ = true;
  while (k_ < track_.end() && track_.time_s(k_) < t_s) ++k_;
  return track_.before(k_, t_s);
}

// Between samples k - 1 and k, the first at or after t.
double Track::before(std::int64_t k, double t_s) const {
  if (k <= begin()) return value(begin());
  if (k >= end()) return value(end() - 1);
  const double at_k_s = time_s(k);
  if (at_k_s == t_s) return value(k);
  const double since_s = time_s(k - 1), span_s = at_k_s - since_s;
  const double part = span_s > 0 ? (t_s - since_s) / span_s : 1;
  return value(k - 1) + part * (value(k) - value(k - 1));
}

}  // namespace airlatch
