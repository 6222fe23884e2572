// SPDX-License-Identifier: GPL-3.0-or-later
// rehearsed_events.hpp: what the chain reports of rehearsals of every fault.
#pragma once
#include <string>
#include <vector>

#include "decoders/chain.hpp"
#include "plugin/rehearse/faults.hpp"
#include "plugin/rehearse/rehearsal.hpp"

namespace airlatch::test {

// One rehearsal a fault, all of the same rate and length.
inline std::vector<Rehearsal> rehearse_all(std::int64_t rate_hz, double hold_s) {
  std::vector<Rehearsal> out;
  std::uint64_t seed = 960'000;
  for (const Fault& fault : faults())
    out.push_back(
        rehearse({.fault = fault.name, .rate_hz = rate_hz, .seed = seed++, .hold_s = hold_s}));
  return out;
}

// Events as they become decidable; of the plan only its response and run limits count.
inline std::vector<Event> decode_by(const Rehearsal& r, const Plan& plan) {
  std::vector<ChainChannel> channels;
  for (const auto& entry : r.rig.channel)
    channels.push_back({.rig = entry, .clock = r.clock, .logic = false});
  Chain chain(channels, {.rig = r.rig, .plan = plan});
  std::vector<Event> events;
  chain.on_event.connect([&](const Event& event) { events.push_back(event); });
  for (std::size_t c = 0; c < channels.size(); ++c) {
    chain.push({.channel = c, .clock = r.clock, .first = 0, .values = r.channels[c].values});
    chain.end_channel(c);
  }
  chain.finish();
  return events;
}

}  // namespace airlatch::test
