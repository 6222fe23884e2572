// SPDX-License-Identifier: GPL-3.0-or-later
// run_on.hpp: a motor that has run for run_limit without cutting off (RUN_ON).
//
// In    kMotorOn / kMotorDips / kMotorBack / kMotorOff edges; the line pressure.
// Out   RUN_ON at start + run_limit, with the `pressure` kPa there.
// How   bookkeeping; a run that began before the capture counts from the capture's first sample,
//       and the note says so.
// Cost  O(1).
#pragma once
#include "decoders/decoder.hpp"

namespace airlatch {

class RunOn final : public Decoder {
 public:
  using Decoder::Decoder;
  void on_edge(const Edge& lower) override;
  void on_tick(double now_s) override;

 private:
  std::optional<Edge> start_;
  std::optional<double> dipped_s_;
};

}  // namespace airlatch
