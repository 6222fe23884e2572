// SPDX-License-Identifier: GPL-3.0-or-later
// trace.hpp: a signal of any length as at most kMost averaged points.
//
// In    samples in rising time.
// Out   points: mean time, mean value, count.
// How   equal time bins; when there are too many, neighbours are merged and the bins become twice
//       as wide. Means of white noise stay least-squares sufficient for any fit that is smooth in a
//       bin.
// Cost  kMost points.
#pragma once
#include <algorithm>
#include <cstdint>
#include <vector>

#include "decoders/stream/track.hpp"

namespace airlatch {

class Trace {
 public:
  static constexpr std::size_t kMost = 4096;
  static constexpr double kFirstBin_s = 0.002;
  struct Point {
    double time_s = 0, value = 0, n = 0;
  };

  explicit Trace(double start_s = 0, double first_bin_s = kFirstBin_s)
      : start_s_(start_s), width_s_(first_bin_s), per_s_(1 / first_bin_s) {}
  void add(const Point& point) { add(point, bin(point.time_s)); }
  // Of samples [from, to) of a track those that share the first one's bin, at once; `changed` turns
  // their mean into what is kept. The first sample of the next bin. REQUIRES: from < to.
  template <typename Change>
  std::int64_t add_bin(const Track& track, std::int64_t from, std::int64_t to, Change&& changed) {
    const std::int64_t here = bin(track.time_s(from)), next = bin_end(track, here, from, to);
    Point point{track.mean_time_s(from, next), 0, static_cast<double>(next - from)};
    point.value = changed(point.time_s, sum(track.values(from, next)) / point.n);
    add(point, here);
    return next;
  }
  void drop_last(std::size_t n);
  [[nodiscard]] const std::vector<Point>& points() const { return points_; }

 private:
  [[nodiscard]] std::int64_t bin(double time_s) const;
  [[nodiscard]] std::int64_t bin_end(const Track& track, std::int64_t here, std::int64_t k,
                                     std::int64_t to) const;
  void add(const Point& point, std::int64_t in_bin);
  double start_s_ = 0, width_s_ = kFirstBin_s, per_s_ = 1 / kFirstBin_s;
  std::int64_t last_bin_ = 0;  // of the last point
  std::vector<Point> points_;  // mean so far of each bin that has samples
};

}  // namespace airlatch
