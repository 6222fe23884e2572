// SPDX-License-Identifier: GPL-3.0-or-later
// overlay.hpp: two captures in one picture, each run laid over its counterpart.
//
// In    a capture before and one after a repair, drawn as envelopes.
// Out   a panel for current and one for pressure, for each direction run in both: time from the
//       motor's start, before dashed, after solid.
#pragma once
#include "plugin/report/plot.hpp"

namespace airlatch {

// Whether there is a run of one direction in both, to lay one over the other.
bool can_overlay(const CapturePlot& before, const CapturePlot& after);
void draw_overlay(Canvas& canvas, const CapturePlot& before, const CapturePlot& after, double x,
                  double y, double width, double height);

}  // namespace airlatch
