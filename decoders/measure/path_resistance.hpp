// SPDX-License-Identifier: GPL-3.0-or-later
// path_resistance.hpp: feed_path_resistance and return_path_resistance of a run, in ohms.
//
// How   least squares (JCGM 100 H.3) of the path's voltage on the current over inrush and run:
//       supply less feed for the feed path, return for the return path. The line's intercept is the
//       meters' offset, known beforehand to lie within their stated accuracy: where the current
//       varies the slope rules and offsets do not matter, where it does not the ratio of means
//       does, with the offset's uncertainty in full. Noise of the current (errors in variables) is
//       taken out of the slope with its known variance. A stretch that counts as a whole, on one
//       clock, is taken by its sums.
#pragma once
#include <cstdint>

#include "decoders/measure/run_measure.hpp"
#include "decoders/method/regression.hpp"

namespace airlatch {

class PathResistance final : public RunMeasure {
 public:
  void take(const CaptureContext& context, const RunFacts& run, double from_s,
            double to_s) override;
  void add_to(Event& stop, const CaptureContext& context, const RunFacts& run) override;

 private:
  bool take_whole(const CaptureContext& context, const RunFacts& run, std::int64_t from,
                  std::int64_t to);
  LineAccumulator feed_, return_;
  LineAccumulator supply_;  // its slope is less the source's own resistance
};

}  // namespace airlatch
