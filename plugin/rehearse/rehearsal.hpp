// rehearsal.hpp: a capture of a made-up system, with its ground truth.
//
// In    a fault or condition by name, a sampling rate, a seed.
// Out   the channels as instruments would record them (noise, offset, quantisation, range), the rig
//       that describes those instruments, and the truth as events.
// How   PumpModel in continuous time; the truth is taken from its noise-free course on steps of at
//       most 20 us, by the contract's definitions, never by the decoders.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "airlatch/v1/event.pb.h"
#include "airlatch/v1/setup.pb.h"
#include "decoders/stream/sample_block.hpp"
#include "plugin/rehearse/pump_model.hpp"

namespace airlatch {

struct RehearseOptions {
  std::string fault = "sound";
  std::int64_t rate_hz = 10000;
  std::uint64_t seed = 1;
  std::uint64_t noise_seed = 0;           // another noise on the same system; 0: from the seed
  double noise = 1;                       // factor on every sensor's noise
  double hold_s = 20;                     // rest after each run
  std::optional<double> leak_tau_s = {};  // replaces the fault's leak time constant
  bool vary = true;                       // parameters scatter with the seed
  int bits = 12;                          // of the converters; 0: no quantisation
  double line_noise_kpa = 0.05;           // standard deviations of the sensors
  double motor_noise_a = 0.012;
  double volt_noise_v = 0.006;
  double heat = 1;  // factor on the warmth that pumped air keeps at first
};

struct Rehearsal {
  struct Channel {
    std::string name;
    v1::Role role = v1::ROLE_UNSPECIFIED;
    std::vector<float> values;
  };
  // A rest of the line: what the leak alone does in it.
  struct Decay {
    double stop_s = 0, window_s = 0, end_s = 0;  // window: four relaxation times after the stop
    double tau_s = 0;                            // viscous; 0: tight
    double isothermal_kpa = 0;                   // at the stop
    [[nodiscard]] double pressure_kpa(double t_s) const;
    [[nodiscard]] double slope_kpa_s(double t_s) const;
  };
  SampleClock clock;
  std::vector<Channel> channels;
  v1::Rig rig;
  std::vector<v1::Event> truth;  // by time
  std::vector<Decay> decays;     // beside the truth's LEAK_DECAY events, in their order
  std::string finding;
  PumpParameters parameters;
};

Rehearsal rehearse(const RehearseOptions& options);

}  // namespace airlatch
