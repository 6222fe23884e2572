// SPDX-License-Identifier: GPL-3.0-or-later
// readings.hpp: what a channel has read so far, and whether it can be what it is said to be.
//
// In    scaled blocks of one role, slice by slice, with each slice's extremes.
// Out   count, extremes, the mean of the first kRest_s; how many readings lie beyond what is
//       physically possible, and beyond what such systems reach.
// How   Beyond is lasting from the third reading in a row on that spans kLasting_s at least, or (at
//       the end) where it is a hundredth of all readings, three at least: a spike is not, whatever
//       its height.
// Cost  O(1) a slice and a sum of the first ones; a look at each sample only of a slice with one
//       beyond, or a missing one.
#pragma once
#include <cstdint>
#include <limits>

#include "decoders/stream/sample_block.hpp"
#include "decoders/stream/summary.hpp"

namespace airlatch {

// Of a role, in its unit. All: common practice, no source, but for the vacuum and absolute zero.
struct Believable {
  struct Span {
    double least, most;
  };
  Span possible, likely;
};
const Believable& believable(Role role);

class Readings {
 public:
  static constexpr double kRest_s = 0.2;
  static constexpr double kLasting_s = 0.01;
  static constexpr std::int64_t kLastingReadings = 3;

  struct Beyond {
    std::int64_t readings = 0;
    bool in_a_row = false;  // kLastingReadings and kLasting_s were reached
    double first_s = 0;     // from the capture's first sample
    double worst = 0;       // the value that lies farthest out
  };

  explicit Readings(Role role) : role_(role) {}
  // `extremes`: of the block, or of it and the sample before; without use where not all are finite.
  // `zero`: what has been taken off as zero. `t0_ns`: the capture's first sample.
  void take(const SampleBlock& scaled, const Extremes& extremes, double zero, std::int64_t t0_ns);

  [[nodiscard]] Role role() const { return role_; }
  [[nodiscard]] std::int64_t count() const {
    return count_;
  }                                                      // missing ones and overloads left out
  [[nodiscard]] double least() const { return least_; }  // of finite readings
  [[nodiscard]] double most() const { return most_; }
  // Mean of the first kRest_s, with the zero that was learnt put back; NaN: there is none.
  [[nodiscard]] double rest() const;
  [[nodiscard]] const Beyond& impossible() const { return impossible_.seen; }
  [[nodiscard]] const Beyond& unlikely() const { return unlikely_.seen; }
  // What is known before the end is known at once.
  [[nodiscard]] bool lasting(const Beyond& beyond, bool ended) const;

 private:
  struct Watch {
    Beyond seen = {};
    std::int64_t row = 0;
    double row_from_s = 0;
    void take(double value, double time_s, const Believable::Span& span);
  };
  void look_at_each(const SampleBlock& scaled, std::int64_t t0_ns);

  Role role_;
  std::int64_t count_ = 0, rest_n_ = 0;
  double least_ = std::numeric_limits<double>::infinity(), most_ = -least_;
  double rest_ = 0, zero_ = 0;
  bool rest_over_ = false;
  Watch impossible_, unlikely_;
};

}  // namespace airlatch
