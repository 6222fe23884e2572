// SPDX-License-Identifier: GPL-3.0-or-later
#include "tests/support/decode.hpp"

#include <gtest/gtest.h>

#include <algorithm>

#include "plugin/message/wire.hpp"

namespace airlatch::test {

ChainChannel channel_of(Role role, const SampleClock& clock) {
  ChainChannel channel;
  channel.rig.role = role;
  channel.rig.source = name_of(role);
  channel.clock = clock;
  return channel;
}

// Decodes with every channel cut into blocks of `cut` samples, fed in time order.
std::vector<Event> decode(const Waves& waves, std::size_t cut, const ChainSettings& settings,
                          std::vector<ChainChannel> channels) {
  if (channels.empty())
    for (const auto& [role, wave] : waves) channels.push_back(channel_of(role, wave.clock));
  Chain chain(channels, settings);
  std::vector<Event> events;
  chain.on_event.connect([&](const Event& event) { events.push_back(event); });
  std::vector<std::size_t> done(waves.size(), 0);
  while (true) {
    // The channel that is furthest behind goes next.
    std::size_t next = waves.size();
    double earliest_s = 0;
    for (std::size_t c = 0; c < waves.size(); ++c) {
      if (done[c] >= waves[c].second.values.size()) continue;
      const double t_s =
          static_cast<double>(waves[c].second.clock.time_ns(static_cast<std::int64_t>(done[c])));
      if (next == waves.size() || t_s < earliest_s) {
        next = c;
        earliest_s = t_s;
      }
    }
    if (next == waves.size()) break;
    const Wave& wave = waves[next].second;
    const std::size_t n = std::min(cut, wave.values.size() - done[next]);
    chain.push({.channel = next,
                .clock = wave.clock,
                .first = static_cast<std::int64_t>(done[next]),
                .values = std::span(wave.values).subspan(done[next], n)});
    done[next] += n;
    if (done[next] >= wave.values.size()) chain.end_channel(next);
  }
  chain.finish();
  return events;
}

std::vector<Event> of_kind(const std::vector<Event>& events, Kind kind) {
  std::vector<Event> out;
  std::copy_if(events.begin(), events.end(), std::back_inserter(out),
               [kind](const Event& event) { return event.kind == kind; });
  return out;
}

// The measure's value; fails the test where it is missing.
double measure(const Event& event, const std::string& name) {
  const Measure* found = find_measure(event, name);
  EXPECT_NE(found, nullptr) << name << " is missing: "
                            << (find_missing(event, name) ? find_missing(event, name)->text : "");
  return found ? found->value : 0;
}

MissingCode missing(const Event& event, const std::string& name) {
  const Missing* found = find_missing(event, name);
  return found ? found->code : MissingCode::UNSPECIFIED;
}

std::string bytes(const std::vector<Event>& events) {
  std::string out;
  for (const Event& event : events) {
    const std::string one = to_wire(event);
    out += std::to_string(one.size()) + ":" + one;
  }
  return out;
}

}  // namespace airlatch::test
