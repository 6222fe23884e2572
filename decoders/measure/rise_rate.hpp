// SPDX-License-Identifier: GPL-3.0-or-later
// rise_rate.hpp: how fast the pressure built up, `rise_rate` kPa/s.
//
// How   magnitude of the mean slope between the 10 % and 50 % reference levels (IEEE Std 181) of
//       the pressure's change during the run. The line is kept as averaged points, so that a run of
//       any length needs the same memory. The instant of each level comes from a parabola
//       through the points around it; its uncertainty is noise over slope.
#pragma once
#include "decoders/measure/run_measure.hpp"
#include "decoders/stream/trace.hpp"

namespace airlatch {

class RiseRate final : public RunMeasure {
 public:
  static constexpr double kLead_s = 0.05;
  // How long before the run the pressure is wanted: a slow meter's last readings at rest.
  static double lead_s(const Track& line);
  explicit RiseRate(double start_s) : trace_(start_s) {}
  void take(const CaptureContext& context, const RunFacts& run, double from_s,
            double to_s) override;
  void add_to(Event& stop, const CaptureContext& context, const RunFacts& run) override;

 private:
  [[nodiscard]] bool holes(const Uncertain& from_s, const Uncertain& to_s, double period_s) const;
  Trace trace_;
  bool clipped_ = false;
};

}  // namespace airlatch
