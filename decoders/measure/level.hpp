// SPDX-License-Identifier: GPL-3.0-or-later
// level.hpp: run_time, run_current, end_current and end_pressure of a run.
//
// How   run_current is the mean from kInrushOver_s after the start to the stop; end_current is the
//       mean of the last 50 ms before the stop; end_pressure is a straight line through the last
//       50 ms, read at the stop. Type A from the scatter, type B from the rig (JCGM 100).
#pragma once
#include "decoders/measure/run_measure.hpp"

namespace airlatch {

// Pressure at the stop with its type A uncertainty, kPa; nothing without readings beside it.
std::optional<Uncertain> end_pressure(const CaptureContext& context, const RunFacts& run);

class Level final : public RunMeasure {
 public:
  static constexpr double kInrushOver_s = 0.2;  // common practice, no source
  static constexpr double kEnd_s = 0.05;        // the contract
  void take(const CaptureContext& context, const RunFacts& run, double from_s,
            double to_s) override;
  void add_to(Event& stop, const CaptureContext& context, const RunFacts& run) override;

 private:
  double mean_a_ = 0, squares_ = 0, n_ = 0;  // running mean and sum of squares about it
};

}  // namespace airlatch
