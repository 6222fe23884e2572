// SPDX-License-Identifier: GPL-3.0-or-later
// rehearsal.hpp: a capture of a made-up system, with its ground truth.
//
// In    a fault or condition by name, a sampling rate, a seed.
// Out   the channels as instruments would record them (noise, offset, quantisation, range), the rig
//       that describes those instruments, and the truth as events.
// How   PumpModel in continuous time; the truth is taken from its noise-free course on steps of at
//       most 20 us, by the contract's definitions, never by the decoders. In the order of the data:
//       faults and scatter (the system and the technician's script), script_player (feeds are
//       switched) on measured_pump (time goes on; samples through sensors, and the course),
//       feed_truth, run_truth with run_measures, rest_truth, instrument_faults.
#pragma once
#include <string>
#include <vector>

#include "decoders/event.hpp"
#include "decoders/setup.hpp"
#include "decoders/stream/sample_block.hpp"
#include "plugin/rehearse/pump_model.hpp"
#include "plugin/rehearse/rehearse_options.hpp"
#include "plugin/rehearse/rest_truth.hpp"
#include "plugin/rehearse/sensors.hpp"

namespace airlatch {

struct Rehearsal {
  using Channel = SensorChannel;
  using Decay = LineDecay;

  SampleClock clock;
  std::vector<Channel> channels;
  Rig rig;
  std::vector<Event> truth;   // by time
  std::vector<Decay> decays;  // beside the truth's LEAK_DECAY events, in their order
  std::string finding;
  PumpParameters parameters;
};

// Throws std::invalid_argument where no fault has that name.
Rehearsal rehearse(const RehearseOptions& options);

}  // namespace airlatch
