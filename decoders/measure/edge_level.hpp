// SPDX-License-Identifier: GPL-3.0-or-later
// edge_level.hpp: what a voltage stands at after an edge, `level` V.
//
// How   the mean from 20 to 50 ms after the edge, whatever hum and sag there is in it. Its uncertainty:
//       the meter's white and flicker noise, and the slope across the window times the uncertainty of
//       where the window lies. A slow meter's first whole reading after the edge stands for it.
#pragma once
#include <optional>

#include "decoders/context.hpp"

namespace airlatch {

// Nothing where the next change, at until_s, leaves no window.
std::optional<Uncertain> level_after(const CaptureContext& context, Role role, Uncertain edge_s,
                                     double until_s, double from_s, double to_s);

}  // namespace airlatch
