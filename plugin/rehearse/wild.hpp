// SPDX-License-Identifier: GPL-3.0-or-later
// wild.hpp: the made-up car as cars and meters are: what the plain one leaves out.
//
// In    a system and its instruments, random numbers, the readings a second.
// Out   the same with two warmths of the pumped air, a leak of another law (or a slight one on a sound
//       line), hoses that give, a line that warms or cools, contacts that chatter after each feed; and
//       instruments with flicker noise, hum of mains or alternator, lag, drift within the rig's
//       uncertainty, and readings that are means over a time.
// How   each drawn evenly from a range in wild.cpp (common practice, no source). The decoders assume
//       none of these laws and ranges; the truth stays exact.
#pragma once
#include <cstdint>
#include <vector>

#include "plugin/rehearse/pump_model.hpp"
#include "plugin/rehearse/random.hpp"
#include "plugin/rehearse/sensors.hpp"

namespace airlatch {

void make_wild(PumpParameters& p, Random& random);
void make_wild(std::vector<Sensor>& sensors, std::int64_t rate_hz, Random& random);

}  // namespace airlatch
