// SPDX-License-Identifier: GPL-3.0-or-later
// summary.hpp: a decoded capture in plain words.
#pragma once
#include <functional>
#include <string>

#include "plugin/session/capture_facts.hpp"
#include "plugin/session/event_store.hpp"

namespace airlatch {

// One line an event, sorted by time, then a table of runs, one of decays, and remarks: written in
// pieces of whole lines, so that a day's need not be in memory at once.
void write_summary(const CaptureFacts& facts, const EventStore& events,
                   const std::function<void(const std::string&)>& write);

}  // namespace airlatch
