// SPDX-License-Identifier: GPL-3.0-or-later
// run_measures.hpp: the true measures of one run of the motor.
//
// In    the course of the movement, where the run starts and stops in it, and the system's parameters.
// Out   the contract's run measures, added to the event that ends the run.
// How   means and the energy are sums over the course's steps; resistances, inductance and constants
//       are the model's own.
#pragma once
#include <cstddef>

#include "decoders/event.hpp"
#include "plugin/rehearse/course.hpp"
#include "plugin/rehearse/pump_model.hpp"

namespace airlatch {

struct Run {
  const Course& course;
  Crossing start, stop;  // instants, and the points at which they have been passed
};

void add_run_measures(Event& stop, const Run& run, const PumpParameters& p, int contact,
                      bool command);

}  // namespace airlatch
