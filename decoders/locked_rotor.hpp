// SPDX-License-Identifier: GPL-3.0-or-later
// locked_rotor.hpp: a motor that draws stall current and does not turn (LOCKED_ROTOR).
//
// In    kMotorOn / kMotorDips / kMotorOff edges; current and pressure samples.
// Out   LOCKED_ROTOR at the start of the stretch, with `stall_current` A: the MOTOR_START instant
//       when it never turned, else the instant at which the current rose to stall.
// How   a turning motor's back-EMF takes the current well below its inrush peak within a few
//       mechanical time constants. Current that stays above kStallShare of the peak for
//       kLeastStretch_s, with a pressure that does not move, means no rotation. Meters too slow to
//       show the inrush cannot detect it, and nothing is reported.
// Cost  O(1).
#pragma once
#include "decoders/decoder.hpp"

namespace airlatch {

class LockedRotor final : public Decoder {
 public:
  static constexpr double kStallShare = 0.87;     // between run/inrush (below 0.75) and 1
  static constexpr double kLeastStretch_s = 0.3;  // several mechanical time constants
  using Decoder::Decoder;
  void on_edge(const Edge& lower) override;
  void on_tick(double now_s) override;

 private:
  void judge(double to_s);
  std::optional<Edge> start_;
  double looked_until_s_ = 0;
  std::optional<double> since_s_;  // current at stall level from here on
  bool from_start_ = false, reported_ = false;
};

}  // namespace airlatch
