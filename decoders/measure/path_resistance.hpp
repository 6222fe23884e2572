// SPDX-License-Identifier: GPL-3.0-or-later
// path_resistance.hpp: feed_path_resistance and return_path_resistance of a run, in ohms.
//
// How   the path's voltage (supply less feed; return) is compared at different currents, each a mean
//       over a stretch: the run after its inrush; the rest after a cut-off, while the contact is still
//       fed and draws nothing; the inrush, once the contact has settled. Run against rest is the best:
//       the meters' offsets fall out. Where the contact was let go at the stop the run is compared with
//       its inrush, and with nothing, where the meters' offset counts. What is known twice is weighted
//       by 1/u^2. Uncertainties from the channels' noise as it is; a bouncing contact's first moments
//       and the surroundings of an interruption are left out.
// Cost  sums of each channel over the run.
#pragma once
#include <array>

#include "decoders/measure/run_measure.hpp"

namespace airlatch {

class PathResistance final : public RunMeasure {
 public:
  void take(const CaptureContext& context, const RunFacts& run, double from_s,
            double to_s) override;
  void add_to(Event& stop, const CaptureContext& context, const RunFacts& run) override;

  // Means over one stretch, whatever each channel's clock.
  struct Stretch {
    struct Sum {
      double sum = 0, n = 0;
      [[nodiscard]] double mean() const { return n > 0 ? sum / n : 0; }
    };
    Sum current, supply, feed, back;
    double from_s = 0, to_s = 0;
    void add(const CaptureContext& context, Role feed_role, double begin_s, double end_s);
  };

 private:
  [[nodiscard]] Stretch rest_after(const CaptureContext& context, const RunFacts& run,
                                   bool while_fed) const;
  Stretch running_, inrush_;
  bool clipped_ = false;
};

}  // namespace airlatch
