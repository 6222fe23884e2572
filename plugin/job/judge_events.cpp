// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/job/judge_events.hpp"

#include "plugin/session/runs.hpp"
#include "plugin/session/steps.hpp"
#include "plugin/verdict/rules.hpp"
#include "plugin/verdict/trust.hpp"

namespace airlatch {

void judge_events(Report& report, const EventStore& all, const Plan& plan,
                  const Distrusted& distrusted) {
  add_events(report, all);
  const EventStore events = trusted(all, distrusted);
  report.steps = judge_steps(plan, events.all());
  EvidenceGatherer evidence(limits_of(plan));
  evidence.take(events, 0);
  add_findings(report, evidence.finish());
}

}  // namespace airlatch
