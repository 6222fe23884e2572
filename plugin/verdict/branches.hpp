// SPDX-License-Identifier: GPL-3.0-or-later
// branches.hpp: which branch leaks, from holds with branches closed in turn.
//
// In    LEAK_DECAY events, each with the branches that were closed while the line was left alone.
// Out   each branch's own share of the loss with its standard uncertainty, and what follows from
//       it.
// How   leaks side by side add: what a hold loses is the sum over the branches that were open, plus
//       the rest (pump and trunk). Weighted linear least squares over all holds, uncertainties from
//       its covariance (JCGM 101, 5; JCGM 100, H.3 for the form).
//       A closed branch takes its volume with it, so that the same leak shows as a faster fall. Best
//       is the share of the pump's delivery, which holds the volume itself; then the flow, where
//       each capture's rig states its volume; else the slope, taken as too steep by a third or less
//       (kVolumeGone) while a branch is closed.
//       A branch is named when its share is beyond twice its uncertainty, leads all others by twice
//       the uncertainty of the difference, and mending it would bring the line within its limit;
//       else what is said first is where most of the loss is.
#pragma once
#include <string>
#include <vector>

#include "decoders/event.hpp"
#include "plugin/message/report.hpp"
#include "plugin/session/limits.hpp"

namespace airlatch {

// The most that a closed branch takes of the line's volume; evenly distributed from nothing to that
// (common practice, no source).
constexpr double kVolumeGone = 1.0 / 3;

struct Hold {
  std::vector<std::string> closed;  // branches; empty: the whole line was open
  Event decay;                      // LEAK_DECAY
};

// One budget a direction that was held; none where no branch was ever closed.
std::vector<Report::LeakBudget> leak_budgets(const std::vector<Hold>& holds, const Limits& limits);

}  // namespace airlatch
