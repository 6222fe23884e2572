// trace.hpp: a signal of any length as at most kMost averaged points.
//
// In    samples in rising time.
// Out   points: mean time, mean value, count.
// How   equal time bins; when they are too many, neighbours are merged and bins twice as wide.
//       Means of white noise stay least-squares sufficient for any fit that is smooth in a bin.
// Cost  kMost points.
#pragma once
#include <cstdint>
#include <vector>

namespace airlatch {

class Trace {
 public:
  static constexpr std::size_t kMost = 4096;
  static constexpr double kFirstBin_s = 0.001;
  struct Point {
    double time_s = 0, value = 0, n = 0;
  };

  explicit Trace(double start_s = 0) : start_s_(start_s) {}
  void add(double time_s, double value);
  [[nodiscard]] const std::vector<Point>& points() const { return points_; }

 private:
  [[nodiscard]] std::int64_t bin(double time_s) const;
  double start_s_ = 0, width_s_ = kFirstBin_s;
  std::vector<Point> points_;  // mean so far of each bin that has samples
};

}  // namespace airlatch
