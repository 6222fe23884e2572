// SPDX-License-Identifier: GPL-3.0-or-later
// feed_truth.hpp: what the truth says about the feeds.
//
// In    what was switched when.
// Out   FEED_ON, FEED_OFF at the instants of switching; NO_RESPONSE at a feed that was held for the
//       response limit without an answer, `waited` (s).
#pragma once
#include <vector>

#include "decoders/event.hpp"
#include "plugin/rehearse/script_player.hpp"

namespace airlatch {

std::vector<Event> truth_of_feeds(const Played& played, bool command);
std::vector<Event> truth_of_unanswered(const Played& played, bool command);

}  // namespace airlatch
