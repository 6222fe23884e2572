// SPDX-License-Identifier: GPL-3.0-or-later
// steps.hpp: the steps of a plan judged by what captures show.
//
// How   a step is matched to the first event of the expected kind and direction that no earlier
//       step has taken. Its limits are judged with their uncertainty: PASS or FAIL where the value
//       is at least two standard uncertainties away from the limit; else the step's note says that
//       it is too close to call, and it does not pass. A step that was not seen is NOT_DONE; one
//       whose limits the channels cannot show is NOT_MEASURABLE.
#pragma once
#include <vector>

#include "plugin/message/report.hpp"

namespace airlatch {

std::vector<Report::StepResult> judge_steps(const Plan& plan, const std::vector<Event>& events);

// For each step the event that it takes; null where there is none.
std::vector<const Event*> events_of_steps(const Plan& plan, const std::vector<Event>& events);

}  // namespace airlatch
