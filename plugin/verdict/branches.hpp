// SPDX-License-Identifier: GPL-3.0-or-later
// branches.hpp: which branch leaks, from holds with branches closed in turn.
//
// In    LEAK_DECAY events, each with the branches that were closed while the line was left alone.
// Out   each branch's own share of the loss with its standard uncertainty, and what follows from
//       it.
// How   leaks side by side add: what a hold loses is the sum over the branches that were open, plus
//       the rest (pump and trunk). Weighted linear least squares over all holds, uncertainties from
//       its covariance (JCGM 101, 5; JCGM 100, H.3 for the form). A loss in kPa/min is turned into
//       what the whole line would lose by it; where the rig gives no volumes, a closed branch is
//       taken to have changed the volume by less than about a fifth (kVolumeShare).
//       A branch is named when its share is beyond twice its uncertainty and leads all others by
//       twice the uncertainty of the difference.
#pragma once
#include <string>
#include <vector>

#include "decoders/event.hpp"
#include "plugin/message/report.hpp"

namespace airlatch {

constexpr double kVolumeShare = 0.1;  // relative standard uncertainty (common practice, no source)

struct Hold {
  std::vector<std::string> closed;  // branches; empty: the whole line was open
  Event decay;                      // LEAK_DECAY
};

// One budget a direction that was held; none where no branch was ever closed.
std::vector<Report::LeakBudget> leak_budgets(const std::vector<Hold>& holds);

}  // namespace airlatch
