// runs.hpp: events to the report's runs and decays.
#pragma once
#include <vector>

#include "airlatch/v1/report.pb.h"

namespace airlatch {

// The events in the order of their times; those of the same instant as they came.
std::vector<const v1::Event*> by_time(const std::vector<v1::Event>& events);

// Adds one capture's events, by time, with the runs and decays they make up.
void add_events(v1::Report& report, const std::vector<v1::Event>& in_order);

}  // namespace airlatch
