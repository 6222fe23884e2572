// SPDX-License-Identifier: GPL-3.0-or-later
// rehearse_options.hpp: what can be asked of a rehearsal.
#pragma once
#include <cstdint>
#include <optional>
#include <string>

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
  bool wild = false;  // with what the plain world leaves out (wild.hpp)
  double heat = 1;    // factor on the warmth that pumped air keeps at first
};

}  // namespace airlatch
