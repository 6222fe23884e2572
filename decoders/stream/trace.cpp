// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/stream/trace.hpp"

#include <algorithm>

namespace airlatch {
namespace {
void merge(Trace::Point& into, const Trace::Point& other) {
  const double n = into.n + other.n;
  into.time_s += (other.time_s - into.time_s) * other.n / n;
  into.value += (other.value - into.value) * other.n / n;
  into.n = n;
}
}  // namespace

std::int64_t Trace::bin(double time_s) const {
  const double bins = (time_s - start_s_) * per_s_;
  const auto whole = static_cast<std::int64_t>(bins);
  return static_cast<double>(whole) > bins ? whole - 1 : whole;  // floor, without a call
}

// The first sample from k on that lies beyond bin `here`.
std::int64_t Trace::bin_end(const Track& track, std::int64_t here, std::int64_t k,
                            std::int64_t to) const {
  const double end_s = start_s_ + static_cast<double>(here + 1) * width_s_;
  std::int64_t next = std::clamp(track.first_at_or_after(end_s), k + 1, to);
  while (next > k + 1 && bin(track.time_s(next - 1)) != here) --next;  // by rounding
  return next;
}

void Trace::drop_last(std::size_t n) {
  points_.resize(points_.size() - std::min(n, points_.size()));
  if (!points_.empty()) last_bin_ = bin(points_.back().time_s);
}

void Trace::add(const Point& point, std::int64_t in_bin) {
  if (!points_.empty() && last_bin_ == in_bin) {
    merge(points_.back(), point);
    return;
  }
  points_.push_back(point);
  last_bin_ = in_bin;
  while (points_.size() > kMost) {
    width_s_ *= 2;
    per_s_ /= 2;
    std::size_t kept = 0;
    for (std::size_t i = 1; i < points_.size(); ++i) {
      // A bin's mean time lies in the bin, so it identifies the bin.
      if (bin(points_[kept].time_s) == bin(points_[i].time_s))
        merge(points_[kept], points_[i]);
      else
        points_[++kept] = points_[i];
    }
    points_.resize(kept + 1);
    last_bin_ = bin(points_.back().time_s);
  }
}

}  // namespace airlatch
