// SPDX-License-Identifier: GPL-3.0-or-later
// decode.hpp: waves through the chain, events out.
#pragma once
#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "decoders/chain.hpp"
#include "decoders/context.hpp"
#include "tests/support/wave.hpp"

namespace airlatch::test {

using Waves = std::vector<std::pair<Role, Wave>>;

ChainChannel channel_of(Role role, const SampleClock& clock);

// Decodes with every channel cut into blocks of `cut` samples, fed in time order.
std::vector<Event> decode(const Waves& waves, std::size_t cut = 4096,
                          const ChainSettings& settings = {},
                          std::vector<ChainChannel> channels = {});

std::vector<Event> of_kind(const std::vector<Event>& events, Kind kind);

// The measure's value; fails the test where it is missing.
double measure(const Event& event, const std::string& name);

// Why the measure is missing; UNSPECIFIED where it is not said to be.
MissingCode missing(const Event& event, const std::string& name);

std::string bytes(const std::vector<Event>& events);

}  // namespace airlatch::test
