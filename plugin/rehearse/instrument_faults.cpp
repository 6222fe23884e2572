// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/rehearse/instrument_faults.hpp"

#include <cmath>
#include <limits>

#include "decoders/context.hpp"

namespace airlatch {
namespace {

constexpr double kJoin_ns = 1e7;    // ripple leaves the limit for less than 10 ms
constexpr double kAtLimit = 0.999;  // of the range

// Samples [from, to) of the clock.
Event event_over(Kind kind, const SampleClock& clock, std::int64_t from, std::int64_t to) {
  const std::int64_t from_ns = clock.time_ns(from), to_ns = clock.time_ns(to);
  Event event;
  event.kind = kind;
  event.time_s = static_cast<double>(from_ns) * 1e-9;
  add_measure(event, "duration", {static_cast<double>(to_ns - from_ns) * 1e-9, 0}, "s");
  return event;
}

}  // namespace

std::vector<Event> lose_samples(const Script& script, const SampleClock& clock,
                                std::vector<SensorChannel>& channels) {
  if (script.gap_at_s <= 0) return {};
  const auto index_at = [&](double t_s) {
    return clock.index_at_or_after(static_cast<std::int64_t>(t_s * 1e9));
  };
  const std::int64_t from = index_at(script.gap_at_s);
  const std::int64_t to = index_at(script.gap_at_s + script.gap_s);
  for (SensorChannel& channel : channels)
    for (std::int64_t k = from; k < to && k < std::ssize(channel.values); ++k)
      channel.values[static_cast<std::size_t>(k)] = std::numeric_limits<float>::quiet_NaN();
  if (to <= from) return {};
  return {event_over(Kind::GAP, clock, from, to)};
}

std::vector<Event> truth_of_clipping(const Script& script, const SampleClock& clock,
                                     const std::vector<SensorChannel>& channels) {
  std::vector<Event> truth;
  if (script.clip_current_a <= 0) return truth;
  for (const SensorChannel& channel : channels) {
    if (channel.role != Role::MOTOR_CURRENT) continue;
    std::int64_t first = -1, last = -1;
    const auto end_stretch = [&] {
      if (first >= 0) truth.push_back(event_over(Kind::CLIPPED, clock, first, last + 1));
      first = -1;
    };
    for (std::int64_t k = 0; k < std::ssize(channel.values); ++k) {
      const auto value_a = static_cast<double>(channel.values[static_cast<std::size_t>(k)]);
      if (value_a < script.clip_current_a * kAtLimit) continue;
      if (first >= 0 && static_cast<double>(clock.time_ns(k) - clock.time_ns(last)) > kJoin_ns)
        end_stretch();
      if (first < 0) first = k;
      last = k;
    }
    end_stretch();
  }
  return truth;
}

}  // namespace airlatch
