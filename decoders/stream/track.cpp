#include "decoders/stream/track.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace airlatch {

void Track::append(const SampleBlock& scaled, std::int64_t t0_ns) {
  if (scaled.values.empty()) return;
  const std::size_t from = values_.size();
  const double first_s = static_cast<double>(scaled.time_ns(0) - t0_ns) * 1e-9;
  const double period_s = scaled.clock.period_s();
  for (std::size_t i = 0; i < scaled.values.size(); ++i) {
    if (!std::isfinite(scaled.values[i])) continue;
    times_s_.push_back(scaled.times_ns.empty()
                           ? first_s + static_cast<double>(i) * period_s
                           : static_cast<double>(scaled.times_ns[i] - t0_ns) * 1e-9);
    if (!values_.empty() && values_.back() != scaled.values[i]) {
      moved_ = true;
      const double change =
          std::abs(static_cast<double>(scaled.values[i]) - static_cast<double>(values_.back()));
      if (step_ == 0 || change < step_) step_ = change;
    }
    values_.push_back(scaled.values[i]);
  }
  if (values_.size() == from) return;
  if (scaled.times_ns.empty()) {
    period_s_ = period_s;
  } else {
    for (std::size_t i = std::max<std::size_t>(from, 1); i < values_.size(); ++i) {
      const double spacing_s = times_s_[i] - times_s_[i - 1];
      // A pause is not the meter's pace: it counts for no more than twice the present one.
      period_s_ = period_s_ == 0
                      ? spacing_s
                      : period_s_ + 0.1 * (std::min(spacing_s, 2 * period_s_) - period_s_);
    }
  }
  learn_noise(from);
  // Trim seldom and much, so that moving the rest costs little.
  const double oldest_s = times_s_.back() - kKept_s;
  if (times_s_.front() < oldest_s - kKept_s / 2) {
    const auto keep = std::lower_bound(times_s_.begin(), times_s_.end(), oldest_s);
    const auto cut = std::min<std::ptrdiff_t>(keep - times_s_.begin(), std::ssize(values_) - 2);
    times_s_.erase(times_s_.begin(), times_s_.begin() + cut);
    values_.erase(values_.begin(), values_.begin() + cut);
    base_ += cut;
  }
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

void Track::learn_noise(std::size_t from) {
  if (slow()) {
    learn_slow_noise(from);
    return;
  }
  double sum = 0;
  std::int64_t n = 0;
  for (std::size_t i = std::max<std::size_t>(from, 1); i < values_.size(); ++i) {
    const double d = static_cast<double>(values_[i]) - static_cast<double>(values_[i - 1]);
    // Steps of the signal are not noise; once the noise is known they are limited to 4 of its
    // standard deviations.
    const double limit = learnt_ >= 16 ? 32 * std::max(variance_, step_ * step_ / 12) : d * d;
    sum += std::min(d * d, limit);
    ++n;
  }
  if (n == 0) return;
  const double now = sum / static_cast<double>(2 * n);
  const double weight =
      static_cast<double>(n) / static_cast<double>(std::min<std::int64_t>(learnt_, 4000) + n);
  variance_ += weight * (now - variance_);
  learnt_ += n;
}

double Track::noise() const { return std::sqrt(std::max(variance_, step_ * step_ / 12)); }

double Track::quantisation_error() const {
  if (step_ == 0) return 0;
  const double noise2 = std::max(0.0, variance_ - step_ * step_ / 12);
  return step_ / std::numbers::pi / std::numbers::sqrt2 *
         std::exp(-2 * std::numbers::pi * std::numbers::pi * noise2 / (step_ * step_));
}

std::int64_t Track::first_at_or_after(double t_s) const {
  return base_ + (std::lower_bound(times_s_.begin(), times_s_.end(), t_s) - times_s_.begin());
}

double Track::Mean::u() const { return n > 0 ? sd / std::sqrt(static_cast<double>(n)) : 0; }

std::optional<Track::Mean> Track::mean(double from_s, double to_s) const {
  const std::int64_t first = first_at_or_after(from_s), last = first_at_or_after(to_s);
  if (first >= last) return std::nullopt;
  Mean m{.value = 0, .sd = 0, .n = last - first};
  double sum = 0;
  for (std::int64_t k = first; k < last; ++k) sum += value(k);
  m.value = sum / static_cast<double>(m.n);
  double squares = 0;
  for (std::int64_t k = first; k < last; ++k)
    squares += (value(k) - m.value) * (value(k) - m.value);
  if (m.n > 1) m.sd = std::sqrt(squares / static_cast<double>(m.n - 1));
  return m;
}

double Track::at_time(double t_s) const {
  const std::int64_t k = first_at_or_after(t_s);
  if (k <= begin()) return value(begin());
  if (k >= end()) return value(end() - 1);
  const double span_s = time_s(k) - time_s(k - 1);
  const double part = span_s > 0 ? (t_s - time_s(k - 1)) / span_s : 1;
  return value(k - 1) + part * (value(k) - value(k - 1));
}

}  // namespace airlatch
