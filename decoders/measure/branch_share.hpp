// SPDX-License-Identifier: GPL-3.0-or-later
// branch_share.hpp: how much of the line's pressure arrives at a branch's far end, `branch_share`.
//
// In    LINE_PRESSURE and BRANCH_PRESSURE before the start and before the stop.
// Out   the branch's change over the line's, unit 1: near 1 where air passes, near 0 behind a
//       blocked hose. A branch that lags shows less than it ends with.
// How   means of the last kLook_s (three readings of a slow meter) before start and stop; type A
//       from their scatter, type B from the rig's u_rel.
#pragma once
#include "decoders/measure/run_measure.hpp"

namespace airlatch {

class BranchShare final : public RunMeasure {
 public:
  static constexpr double kLook_s = 0.05;
  void take(const CaptureContext& context, const RunFacts& run, double from_s,
            double to_s) override;
  void add_to(Event& stop, const CaptureContext& context, const RunFacts& run) override;

 private:
  std::optional<Uncertain> line_before_, branch_before_;
  bool looked_ = false;
};

}  // namespace airlatch
