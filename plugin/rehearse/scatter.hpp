// SPDX-License-Identifier: GPL-3.0-or-later
// scatter.hpp: random differences between systems: no two are alike.
//
// In    the parameters of a system, random numbers.
// Out   the same with what differs from car to car moved evenly within its share, up or down.
// How   the shares are our own invention. A tight line stays tight.
#pragma once
#include "plugin/rehearse/pump_model.hpp"
#include "plugin/rehearse/random.hpp"

namespace airlatch {

PumpParameters scattered(PumpParameters p, Random& random);

}  // namespace airlatch
