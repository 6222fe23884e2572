// path_resistance.hpp: feed_path_resistance and return_path_resistance of a run, in ohms.
//
// How   straight-line regression (JCGM 100 H.3) of the path's voltage on the current over inrush
// and
//       run: supply less feed for the feed path, return for the return path. Being a slope it is
//       free of constant offsets of the meters. What remains is type A from the residuals and the
//       meters' relative uncertainties. Where the current hardly varies the slope says nothing;
//       then the ratio of means is taken, with the meters' absolute uncertainties in full.
#pragma once
#include "decoders/measure/run_measure.hpp"
#include "decoders/method/regression.hpp"

namespace airlatch {

class PathResistance final : public RunMeasure {
 public:
  void take(const Bench& bench, const RunFacts& run, double from_s, double to_s) override;
  void add_to(v1::Event& stop, const Bench& bench, const RunFacts& run) override;

 private:
  LineAccumulator feed_, return_;
  LineAccumulator supply_;  // its slope is less the source's own resistance
};

}  // namespace airlatch
