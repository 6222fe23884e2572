// SPDX-License-Identifier: GPL-3.0-or-later
// sample_block.hpp: one stretch of one channel, and the exact clock it lies on.
//
// Times are integer nanoseconds from any fixed origin; the capture's first sample sets the zero
// that events count from. An evenly sampled channel keeps a rational period, so sample 3.8e9 of a
// 44 100 Hz capture is still at its exact nanosecond. Slow meters carry one time a value.
//
// What can be counted: times within kLatest_ns of their origin, clocks that are `sound()`. Samples
// beyond are refused where they enter (SampleBlock::sound), so that no sum or difference behind
// that door leaves 64 bits; at the door itself times saturate.
#pragma once
#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>
#include <span>

#include "decoders/setup.hpp"

namespace airlatch {

inline constexpr std::int64_t kLatest_ns = 4'000'000'000'000'000'000;  // 126 years
constexpr bool countable(std::int64_t time_ns) {
  return time_ns >= -kLatest_ns && time_ns <= kLatest_ns;
}

// `later` less `earlier`, of any times; beyond 64 bits the nearest that fits.
constexpr std::int64_t since_ns(std::int64_t later, std::int64_t earlier) {
  std::int64_t out = 0;
  constexpr std::int64_t kMost = std::numeric_limits<std::int64_t>::max();
  if (!__builtin_sub_overflow(later, earlier, &out)) return out;
  return later > earlier ? kMost : -kMost;
}

// The clock of an evenly sampled channel: sample n is at start_ns + n * num_ns / den.
struct SampleClock {
  std::int64_t start_ns = 0;
  std::int64_t num_ns = 0;  // period = num_ns / den, reduced; 0: no clock, times are explicit
  std::int64_t den = 1;     // at least 1

  // The clock of `rate_num / rate_den` samples a second. REQUIRES: both positive.
  static SampleClock of_rate(std::int64_t rate_num, std::int64_t rate_den = 1,
                             std::int64_t start_ns = 0);
  // The clock of a rate as people and files give it, kept to a millionth; none where it is not
  // within these bounds (or no number).
  static constexpr double kLeastRate_hz = 1e-6, kMostRate_hz = 1e9;
  static std::optional<SampleClock> of_rate_hz(double rate_hz);
  // Whether its start can be counted and its period, from a picosecond to 1e6 s, is made of numbers
  // of at most 1e18.
  [[nodiscard]] bool sound() const;
  // Time of sample n, rounded half up from the exact rational; beyond 64 bits the nearest that fits.
  [[nodiscard]] std::int64_t time_ns(std::int64_t n) const;
  // The first sample at or after t_ns (may be negative). REQUIRES: sound, or no clock.
  [[nodiscard]] std::int64_t index_at_or_after(std::int64_t t_ns) const;
  [[nodiscard]] double period_s() const;
  friend bool operator==(const SampleClock&, const SampleClock&) = default;
};

// Borrowed samples of one channel; valid during the call it is handed to.
struct SampleBlock {
  std::size_t channel = 0;                      // the source's channel number
  Role role = Role::UNSPECIFIED;                // set once the rig has scaled the values
  SampleClock clock = {};                       // used when times_ns is empty
  std::int64_t first = 0;                       // index of values[0] on the clock
  std::span<const std::int64_t> times_ns = {};  // explicit times, rising; empty or one a value
  std::span<const float> values = {};           // NaN: missing; +-infinity: overload

  // Whether it can be counted: its clock is sound and its ends are countable. Own times between
  // the ends are not looked at.
  [[nodiscard]] bool sound() const;
  [[nodiscard]] std::int64_t time_ns(std::size_t i) const {
    return times_ns.empty() ? clock.time_ns(first + static_cast<std::int64_t>(i)) : times_ns[i];
  }
};

}  // namespace airlatch
