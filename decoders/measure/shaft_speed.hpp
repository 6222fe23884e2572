// shaft_speed.hpp: speed of the shaft from the commutator's ripple, `shaft_speed` rev/min,
// and how much it differs once a revolution, `segment_irregularity` (1: as much as the ripple).
//
// How   the strongest spectral line of the current in the last kWindow_s before the stop, within
// the
//       range of ripple frequencies such motors show, by windowed spectrum with sub-bin
//       interpolation (method/spectrum). Ripples a turn come from the rig: the least common
//       multiple of two brushes and the segments, or `ripples_per_turn` where the maker counts
//       otherwise. Sampled too slowly for the highest ripple, or without a segment count, it is
//       refused.
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
