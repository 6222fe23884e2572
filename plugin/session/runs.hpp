// SPDX-License-Identifier: GPL-3.0-or-later
// runs.hpp: events to the report's runs and decays.
#pragma once
#include "plugin/message/report.hpp"
#include "plugin/session/event_store.hpp"

namespace airlatch {

// Adds one capture's events with the runs and decays they make up.
void add_events(Report& report, const EventStore& events);

}  // namespace airlatch
