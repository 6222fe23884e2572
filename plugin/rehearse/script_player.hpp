// SPDX-License-Identifier: GPL-3.0-or-later
// script_player.hpp: the technician's script, played on the pump.
//
// In    which contact is fed when, for how long, what is interrupted or jams meanwhile.
// Out   the pump run through all of it, and what was switched when.
// How   a millisecond is the technician's step: after each, they look whether the pump has cut off.
//       Switchings of interruptions are exact.
#pragma once
#include <vector>

#include "plugin/rehearse/faults.hpp"
#include "plugin/rehearse/measured_pump.hpp"
#include "plugin/rehearse/random.hpp"

namespace airlatch {

inline constexpr double kResponse_s = 0.3;  // response limit, the contract's default

struct FeedChange {
  double t_s = 0;
  int contact = 0;
  bool on = false;
};

struct Played {
  std::vector<FeedChange> feeds;       // as a feed channel (or the command line) shows them
  std::vector<FeedChange> unanswered;  // feeds that drew no current for kResponse_s
};

Played play(const Script& script, MeasuredPump& pump, Random& random);

}  // namespace airlatch
