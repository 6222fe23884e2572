// SPDX-License-Identifier: GPL-3.0-or-later
// outline.hpp: a channel of any length in a few hundred buckets of time, to be looked at and drawn.
//
// In    samples in rising time.
// Out   of each bucket the least, the greatest, the sum and the count; of all: the value at rest,
//       the greatest step between neighbours, how many were missing.
// How   buckets of one width from the capture's start; at kBuckets of them two become one, so that
//       outlines of one capture can be brought to one grid.
#pragma once
#include <cstdint>
#include <limits>
#include <vector>

#include "decoders/stream/sample_block.hpp"

namespace airlatch {

class Outline {
 public:
  static constexpr std::size_t kBuckets = 600;
  struct Bucket {
    float least = std::numeric_limits<float>::infinity(), most = -least;
    double sum = 0;
    std::int64_t n = 0;
    [[nodiscard]] double mean() const { return sum / static_cast<double>(n); }
  };
  void take(const SampleBlock& raw, std::int64_t t0_ns);
  // As wide buckets as the widest of several outlines.
  void widen_to(std::int64_t width_ns);

  [[nodiscard]] const std::vector<Bucket>& buckets() const { return buckets_; }
  [[nodiscard]] std::int64_t width_ns() const { return width_ns_; }
  [[nodiscard]] std::int64_t count() const { return count_; }
  [[nodiscard]] std::int64_t missing() const { return missing_; }
  [[nodiscard]] double least() const { return least_; }
  [[nodiscard]] double most() const { return most_; }
  [[nodiscard]] double range() const { return most_ - least_; }
  [[nodiscard]] double largest_step() const { return largest_step_; }
  [[nodiscard]] double end_s() const { return static_cast<double>(end_ns_) * 1e-9; }
  // The means of the buckets that hold samples, in rising order.
  [[nodiscard]] std::vector<double> sorted_means() const;

 private:
  void add(std::int64_t since_ns, float value);
  void halve();
  std::vector<Bucket> buckets_;
  std::int64_t width_ns_ = 1000, count_ = 0, missing_ = 0, end_ns_ = 0;
  double least_ = std::numeric_limits<double>::infinity(), most_ = -least_, largest_step_ = 0;
  float before_ = std::numeric_limits<float>::quiet_NaN();
};

}  // namespace airlatch
