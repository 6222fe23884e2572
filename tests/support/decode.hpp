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

using Waves = std::vector<std::pair<v1::Role, Wave>>;

ChainChannel channel_of(v1::Role role, const SampleClock& clock);

// Decodes with every channel cut into blocks of `cut` samples, fed in time order.
std::vector<v1::Event> decode(const Waves& waves, std::size_t cut = 4096,
                              const ChainSettings& settings = {},
                              std::vector<ChainChannel> channels = {});

std::vector<v1::Event> of_kind(const std::vector<v1::Event>& events, v1::Kind kind);

// The measure's value; fails the test where it is missing.
double measure(const v1::Event& event, const std::string& name);

std::string bytes(const std::vector<v1::Event>& events);

}  // namespace airlatch::test
