// SPDX-License-Identifier: GPL-3.0-or-later
// sample_rate.hpp: the one way by which a rate from outside becomes a clock.
#pragma once
#include <string>

#include "decoders/stream/sample_block.hpp"

namespace airlatch {

// Throws InputError where the rate is no number or beyond what can be used
// (SampleClock::of_rate_hz).
SampleClock clock_of_rate(double rate_hz, const std::string& file, const std::string& place);

}  // namespace airlatch
