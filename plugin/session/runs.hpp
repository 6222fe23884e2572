// runs.hpp: events to the report's runs and decays.
#pragma once
#include "airlatch/v1/report.pb.h"
#include "plugin/session/event_store.hpp"

namespace airlatch {

// Adds one capture's events with the runs and decays they make up.
void add_events(v1::Report& report, const EventStore& events);

}  // namespace airlatch
