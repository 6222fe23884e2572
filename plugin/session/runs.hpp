// runs.hpp: events to the report's runs and decays.
#pragma once
#include <vector>

#include "airlatch/v1/report.pb.h"

namespace airlatch {

// Adds one capture's events, by time, with the runs and decays they make up.
void add_events(v1::Report& report, const std::vector<v1::Event>& by_time);

}  // namespace airlatch
