// SPDX-License-Identifier: GPL-3.0-or-later
// run_measure.hpp: the base class of all measures of a run.
//
// A measure takes the run's samples as they become certain to belong to it (`take`, with rising,
// adjoining windows) and adds its value, or a note why there is none, to the stop event (`add_to`).
// A window may be taken while the run goes on: memory stays bounded for a run of any length.
#pragma once
#include "decoders/context.hpp"

namespace airlatch {

struct RunFacts {
  double start_s = 0, start_u_s = 0, stop_s = 0, stop_u_s = 0;
  Contact contact = Contact::NONE;
  double zero_a = 0;       // the probe's reading at no current
  double zero_span_s = 0;  // how long a mean that is
  // The probe's reading after the stop, its mean over [after_from_s, after_to_s); empty: not seen.
  double after_a = 0, after_from_s = 0, after_to_s = 0;
  double sign = 1;  // of the current as the probe sees it
  bool began_before_capture = false;
  // The latest interruption of the current inside the run; empty: from = to.
  double dip_from_s = 0, dip_to_s = 0;
  [[nodiscard]] double current_a(double reading_a) const { return sign * (reading_a - zero_a); }
};

// The current's mean over [from_s, to_s) of a run whose readings have this mean. Its zero lies between
// those before and after the run, weighted for the least variance. Uncertainty: what averaging leaves
// of white noise, flicker and hum, and of how far the probe wanders between run and zeros; where the
// two zeros differ by more than the noise explains, that as well. What scatters from sample to sample
// beyond the noise (ripple) counts as white.
Uncertain mean_current(const CaptureContext& context, const RunFacts& run, double mean_reading_a,
                       double from_s, double to_s);

class RunMeasure {
 public:
  virtual ~RunMeasure() = default;
  virtual void take(const CaptureContext& context, const RunFacts& run, double from_s,
                    double to_s) = 0;
  virtual void add_to(Event& stop, const CaptureContext& context, const RunFacts& run) = 0;
};

}  // namespace airlatch
