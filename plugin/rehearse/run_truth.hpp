// SPDX-License-Identifier: GPL-3.0-or-later
// run_truth.hpp: what the truth says about the motor's runs.
//
// In    the noise-free movements, in the order of time.
// Out   MOTOR_START, DIRECTION_REVERSAL, RESTART, DROPOUT, LOCKED_ROTOR, RUN_ON, and STALL_CUTOFF or
//       MOTOR_STOP with the run's measures. Nothing of a movement without a start; no stop where the
//       course ends before it.
// How   the contract's levels, on the course: start at 10 % of the inrush peak, stop and dropouts at
//       50 % of what ran before.
#pragma once
#include <vector>

#include "decoders/event.hpp"
#include "plugin/rehearse/course.hpp"
#include "plugin/rehearse/pump_model.hpp"

namespace airlatch {

std::vector<Event> truth_of_runs(const std::vector<Movement>& movements, const PumpParameters& p,
                                 bool command);

}  // namespace airlatch
