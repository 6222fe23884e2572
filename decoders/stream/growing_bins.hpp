// SPDX-License-Identifier: GPL-3.0-or-later
// growing_bins.hpp: a signal of any length as averaged points, the wider the later.
//
// In    points in rising time (means of a few samples).
// Out   bins: mean time, mean value, count.
// How   a bin is as wide as a given share of the time since the start, and no narrower than the
//       points: what begins fast and slows down keeps its shape. A bin begins
//       with the first point after the last one's end.
// Cost  1 / kShare bins for every factor e of length: a day of 20 ms points makes some 800.
#pragma once
#include <algorithm>
#include <vector>

namespace airlatch {

class GrowingBins {
 public:
  static constexpr double kShare = 1.0 / 64;
  struct Bin {
    double time_s = 0, value = 0, n = 0;
  };
  explicit GrowingBins(double start_s = 0) : start_s_(start_s) {}
  void add(double time_s, double value, double n) {
    if (bins_.empty() || time_s >= edge_s_) {
      edge_s_ = time_s + kShare * (time_s - start_s_);
      bins_.push_back({time_s, value, n});
      return;
    }
    Bin& last = bins_.back();
    last.n += n;
    last.time_s += (time_s - last.time_s) * n / last.n;
    last.value += (value - last.value) * n / last.n;
  }
  [[nodiscard]] const std::vector<Bin>& bins() const { return bins_; }

 private:
  double start_s_, edge_s_ = 0;
  std::vector<Bin> bins_;
};

}  // namespace airlatch
