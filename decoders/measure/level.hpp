// SPDX-License-Identifier: GPL-3.0-or-later
// level.hpp: run_time, run_current, end_current and end_pressure of a run.
//
// How   run_current is the mean from kInrushOver_s after the start to the stop; end_current is the
//       mean of the last 50 ms before the stop; end_pressure is a straight line through the last
//       50 ms, read at the stop, or a parabola where the pressure bends. Uncertainties (JCGM 100): the
//       channel's noise as it is, the zero's among it; for the pressure also the sensor's lag and what
//       the bend may be; type B from the rig. What stood at its sensor's limit is not measured.
#pragma once
#include "decoders/measure/run_measure.hpp"

namespace airlatch {

// Pressure at the stop with its uncertainty but for the instrument's, kPa; nothing without readings
// beside it.
std::optional<Uncertain> end_pressure(const CaptureContext& context, const RunFacts& run);

class Level final : public RunMeasure {
 public:
  static constexpr double kInrushOver_s = 0.2;  // common practice, no source
  static constexpr double kEnd_s = 0.05;        // the contract
  void take(const CaptureContext& context, const RunFacts& run, double from_s,
            double to_s) override;
  void add_to(Event& stop, const CaptureContext& context, const RunFacts& run) override;

 private:
  void add_currents(Event& stop, const CaptureContext& context, const RunFacts& run) const;
  static double inrush_over_s(const CaptureContext& context, const RunFacts& run);
  double sum_a_ = 0, n_ = 0;  // of readings
  double squares_ = 0;        // of a slow meter's, about the first
  double from_s_ = 0;         // of the first of them
  double first_a_ = 0;        // what the first kEdge_s show
  bool clipped_ = false;
};

}  // namespace airlatch
