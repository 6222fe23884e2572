// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/measure/shaft_speed.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <vector>

#include "decoders/method/spectrum.hpp"

namespace airlatch {
namespace {
constexpr double kShortest_s = 0.15;  // of a window: the speed is still settling in shorter runs
}  // namespace

void ShaftSpeed::add_to(Event& stop, const CaptureContext& context, const RunFacts& run) {
  const std::uint32_t segments = context.rig.commutator_segments;
  const std::uint32_t ripples =
      context.rig.ripples_per_turn > 0 ? context.rig.ripples_per_turn : std::lcm(2U, segments);
  if (segments == 0 && context.rig.ripples_per_turn == 0) {
    add_missing(stop, "shaft_speed", MissingCode::NO_CHANNEL,
                "the rig gives no commutator_segments");
    return;
  }
  const Track& current = context.track(Role::MOTOR_CURRENT);
  const double low_hz = kLeast_rev_min / 60 * ripples, high_hz = kMost_rev_min / 60 * ripples;
  const double rate_hz = 1 / current.period_s();
  if (rate_hz < 2.2 * high_hz) {
    add_missing(stop, "shaft_speed", MissingCode::TOO_SLOW,
                "the current is sampled too slowly for its ripple");
    return;
  }
  // The current bends in about the last tenth of a millisecond: the window ends before that.
  const double end_s = run.stop_s - 0.002;
  const double from_s = std::max(end_s - kWindow_s, run.start_s + 0.15);
  std::vector<double> signal;
  for (std::int64_t k = current.first_at_or_after(from_s);
       k < current.end() && current.time_s(k) < end_s; ++k)
    signal.push_back(current.value(k));
  const double span_s = static_cast<double>(signal.size()) / rate_hz;
  const auto line =
      span_s < kShortest_s ? std::nullopt : strongest_line(signal, rate_hz, low_hz, high_hz);
  if (!line) {
    add_missing(stop, "shaft_speed",
                span_s < kShortest_s ? MissingCode::CUT_SHORT : MissingCode::NOT_TOLD_FROM_ZERO,
                span_s < kShortest_s ? "the run is too short"
                                     : "no ripple stands out of the current's noise");
    return;
  }
  const double turns = 60.0 / ripples;
  // The speed changes while the pressure builds: the line is its mean over the window, known to a
  // twentieth of a bin at best, and to a share of the change between the window's halves.
  const auto middle = signal.begin() + std::ssize(signal) / 2;
  const auto early = strongest_line({signal.begin(), middle}, rate_hz, low_hz, high_hz);
  const auto late = strongest_line({middle, signal.end()}, rate_hz, low_hz, high_hz);
  const double change_hz = early && late ? late->frequency_hz.value - early->frequency_hz.value : 0;
  add_measure(stop, "shaft_speed",
              {line->frequency_hz.value * turns,
               turns * combine(line->frequency_hz.u, 0.05 / span_s, 0.05 * change_hz)},
              "rev/min");
  // One segment that is worse than the others shows once a revolution.
  const auto once = amplitude_at(signal, rate_hz, line->frequency_hz.value / ripples);
  if (once && line->amplitude > 0)
    add_measure(stop, "segment_irregularity",
                {once->value / line->amplitude, once->u / line->amplitude}, "1");
}

}  // namespace airlatch
