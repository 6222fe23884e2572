// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/rehearse/rehearsal.hpp"

#include <algorithm>
#include <iterator>
#include <utility>

#include "plugin/rehearse/faults.hpp"
#include "plugin/rehearse/feed_truth.hpp"
#include "plugin/rehearse/instrument_faults.hpp"
#include "plugin/rehearse/measured_pump.hpp"
#include "plugin/rehearse/random.hpp"
#include "plugin/rehearse/run_truth.hpp"
#include "plugin/rehearse/scatter.hpp"
#include "plugin/rehearse/script_player.hpp"
#include "plugin/rehearse/wild.hpp"

namespace airlatch {
namespace {

constexpr std::uint64_t kSpread = 0x9e3779b97f4a7c15ULL;  // neighbouring seeds end far apart

PumpParameters parameters_of(const RehearseOptions& options, PumpParameters p, Random& random) {
  if (options.leak_tau_s) p.tau_leak_pressure_s = p.tau_leak_vacuum_s = *options.leak_tau_s;
  p.heat_share *= options.heat;
  if (options.vary) p = scattered(p, random);
  if (options.wild) make_wild(p, random);
  return p;
}

void append(std::vector<Event>& truth, std::vector<Event> more) {
  std::move(more.begin(), more.end(), std::back_inserter(truth));
}

void sort_by_time(std::vector<Event>& truth) {
  std::stable_sort(truth.begin(), truth.end(),
                   [](const Event& a, const Event& b) { return a.time_s < b.time_s; });
}

}  // namespace

Rehearsal rehearse(const RehearseOptions& options) {
  const Fault& fault = find_fault(options.fault);
  Random random(options.seed * kSpread + 12345);
  // The noise has its own: the sampling rate changes nothing of what happens.
  const std::uint64_t noise_seed = options.noise_seed ? options.noise_seed : options.seed;
  const Random noise(noise_seed * kSpread + 54321);

  PumpParameters p;
  p.friction_nm = 0.03;
  Script script;
  script.phases = {{.contact = 0}, {.contact = 1}};
  fault.apply(p, script);
  p = parameters_of(options, p, random);
  for (FeedPhase& phase : script.phases) phase.rest_s = std::min(phase.rest_s, options.hold_s);

  Rehearsal out;
  out.finding = fault.finding;
  out.parameters = p;
  out.clock = SampleClock::of_rate(options.rate_hz);
  std::vector<Sensor> sensors = sensors_of(options, script, random);
  if (options.wild) make_wild(sensors, options.rate_hz, random);
  out.rig = rig_of(sensors, p, random);

  MeasuredPump pump(p, out.clock, sensors, options.bits, noise);
  const Played played = play(script, pump, random);

  append(out.truth, truth_of_unanswered(played, script.command));
  append(out.truth, truth_of_runs(pump.movements(), p, script.command));
  append(out.truth, truth_of_feeds(played, script.command));
  sort_by_time(out.truth);
  out.decays = decays_of(out.truth, pump.movements(), p, pump.end_s());
  append(out.truth, truth_of_rests(out.decays, p, script.command));

  out.channels = pump.take_channels();
  append(out.truth, lose_samples(script, out.clock, out.channels));
  append(out.truth, truth_of_clipping(script, out.clock, out.channels));
  sort_by_time(out.truth);
  return out;
}

}  // namespace airlatch
