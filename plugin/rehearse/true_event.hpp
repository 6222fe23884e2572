// SPDX-License-Identifier: GPL-3.0-or-later
// true_event.hpp: creates an event of the truth in the terms of the contract.
#pragma once
#include "decoders/event.hpp"

namespace airlatch {

// `contact` 0 (A) blows, 1 (B) sucks. A command pump has a command line and no contacts: its events
// have a direction only.
Event true_event(Kind kind, double t_s, int contact, bool command);

}  // namespace airlatch
