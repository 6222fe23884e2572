// SPDX-License-Identifier: GPL-3.0-or-later
// clock_follower.hpp: an evenly sampling instrument's own clock, followed against the host's.
//
// In    how many samples had arrived at which instant of the host's clock.
// Out   the sample clock in pieces that join to the nanosecond; the drift with its uncertainty.
// How   A packet arrives with a delay that varies but has a least value: of each kWindow_s the
//       least delay is kept, and a line through those of the last kMemory_s (least squares, u as in
//       JCGM 100 H.3) gives the drift of the instrument's clock against the host's. Every kSteer_s
//       the period is set to the drift found, corrected so that the accumulated difference is gone
//       by the next time, by kMostSlew at most: time never jumps, so nothing looks like a gap.
// Cost  O(1) memory; nothing is steered in the first minute.
#pragma once
#include <cstdint>
#include <deque>

#include "decoders/method/uncertainty.hpp"
#include "decoders/stream/sample_block.hpp"

namespace airlatch {

class ClockFollower {
 public:
  static constexpr double kWindow_s = 5, kMemory_s = 1800, kSteer_s = 60, kMostSlew = 5e-4;

  struct Piece {
    std::int64_t from = 0;  // the first sample on it
    SampleClock clock = {};
    [[nodiscard]] std::int64_t time_ns(std::int64_t n) const { return clock.time_ns(n - from); }
  };

  // The first `count` samples had come at `arrival_ns`. REQUIRES: rate_hz > 0.
  ClockFollower(std::int64_t rate_hz, std::int64_t arrival_ns, std::int64_t count);
  // `count` samples in all had come at `arrival_ns`.
  void arrived(std::int64_t arrival_ns, std::int64_t count);
  // The piece sample n lies on, and the first sample beyond that piece.
  [[nodiscard]] Piece piece_of(std::int64_t n, std::int64_t* until) const;
  // Of the instrument's clock against the host's, parts per million, positive where it runs fast;
  // u = 0: not known yet.
  [[nodiscard]] Uncertain drift_ppm() const { return drift_ppm_; }

 private:
  void steer(double now_s, std::int64_t count);

  std::int64_t rate_hz_, origin_ns_;
  std::deque<Piece> pieces_;  // the last few: channels of one instrument may lag a little
  struct Delay {
    double time_s, delay_s;  // delay against the nominal clock
  };
  std::deque<Delay> windows_;
  Delay least_ = {};
  double window_from_s_ = 0, steered_s_ = 0;
  bool any_ = false;
  Uncertain drift_ppm_ = {0, 0};
};

}  // namespace airlatch
