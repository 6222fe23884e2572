// SPDX-License-Identifier: GPL-3.0-or-later
// shaft_speed.hpp: speed of the shaft from the commutator's ripple, `shaft_speed` rev/min, and how
// much the ripple differs once a revolution, `segment_irregularity` (1: as much as the ripple).
//
// How   the strongest spectral line of the current in the last kWindow_s before the stop, within
//       the range of ripple frequencies that such motors show, by a windowed spectrum with sub-bin
//       interpolation (method/spectrum). The ripples per turn come from the rig: the least common
//       multiple of two brushes and the segments, or `ripples_per_turn` where the manufacturer
//       counts otherwise. Where the sampling is too slow for the highest ripple, or the rig gives
//       no segment count, there is no value.
#pragma once
#include "decoders/measure/run_measure.hpp"

namespace airlatch {

class ShaftSpeed final : public RunMeasure {
 public:
  static constexpr double kWindow_s = 0.2;
  static constexpr double kLeast_rev_min = 600, kMost_rev_min = 9000;  // common practice, no source
  void take(const CaptureContext&, const RunFacts&, double, double) override {}
  void add_to(Event& stop, const CaptureContext& context, const RunFacts& run) override;
};

}  // namespace airlatch
