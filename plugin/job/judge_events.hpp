// SPDX-License-Identifier: GPL-3.0-or-later
// judge_events.hpp: one capture's events judged: its runs and decays, the plan's steps, findings.
#pragma once
#include "plugin/message/report.hpp"
#include "plugin/session/event_store.hpp"
#include "plugin/session/plausibility.hpp"

namespace airlatch {

// Adds all of them to a report. Limits are limits_of(plan).
void judge_events(Report& report, const EventStore& events, const Plan& plan,
                  const Distrusted& distrusted);

}  // namespace airlatch
