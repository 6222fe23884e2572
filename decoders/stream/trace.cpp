#include "decoders/stream/trace.hpp"

#include <cmath>

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
  return static_cast<std::int64_t>(std::floor((time_s - start_s_) / width_s_));
}

void Trace::add(double time_s, double value) {
  const Point sample{time_s, value, 1};
  // A bin's mean time lies in the bin, so it tells the bin.
  if (!points_.empty() && bin(points_.back().time_s) == bin(time_s)) {
    merge(points_.back(), sample);
    return;
  }
  points_.push_back(sample);
  while (points_.size() > kMost) {
    width_s_ *= 2;
    std::size_t kept = 0;
    for (std::size_t i = 1; i < points_.size(); ++i) {
      if (bin(points_[kept].time_s) == bin(points_[i].time_s))
        merge(points_[kept], points_[i]);
      else
        points_[++kept] = points_[i];
    }
    points_.resize(kept + 1);
  }
}

}  // namespace airlatch
