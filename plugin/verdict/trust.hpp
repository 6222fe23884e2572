// SPDX-License-Identifier: GPL-3.0-or-later
// trust.hpp: a capture's events without what rests on readings that cannot be believed.
//
// Out   the events that a verdict may use: a measure that rests on a distrusted role is missing
//       (IMPLAUSIBLE), an event that does is left out.
#pragma once
#include "plugin/session/event_store.hpp"
#include "plugin/session/plausibility.hpp"

namespace airlatch {

EventStore trusted(const EventStore& events, const Distrusted& distrusted);

}  // namespace airlatch
