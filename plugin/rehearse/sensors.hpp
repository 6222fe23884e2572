// SPDX-License-Identifier: GPL-3.0-or-later
// sensors.hpp: how a quantity becomes a channel.
//
// In    quantities of the system, in the unit of their role.
// Out   readings, and the rig that describes the instruments as a technician knows them.
// How   reading = quantity × gain + offset + noise, rounded to the converter's step (the range over
//       2^bits), held at the range's ends. Gain, offset and noise are normal; a sensor keeps its gain
//       and offset.
#pragma once
#include <string>
#include <vector>

#include "decoders/setup.hpp"
#include "plugin/rehearse/faults.hpp"
#include "plugin/rehearse/pump_model.hpp"
#include "plugin/rehearse/random.hpp"
#include "plugin/rehearse/rehearse_options.hpp"

namespace airlatch {

struct SensorChannel {
  std::string name;
  Role role = Role::UNSPECIFIED;
  std::vector<float> values;
};

struct Sensor {
  const char* name = "";
  Role role = Role::UNSPECIFIED;
  double noise = 0;  // standard deviation
  double range_min = 0, range_max = 0;
  double u_abs = 0, offset = 0;  // a draw of u_abs; a command level has none
  double gain = 1;
};

// The instruments of the script's pump, each with a gain and an offset of its own.
std::vector<Sensor> sensors_of(const RehearseOptions& options, const Script& script,
                               Random& random);

Rig rig_of(const std::vector<Sensor>& sensors, const PumpParameters& p, Random& random);

// What is there to be measured. `command_v`: the voltage of the command line.
double quantity(Role role, const PumpModel& model, double command_v);

// bits 0: no quantisation.
float reading(const Sensor& sensor, double quantity, int bits, Random& noise);

}  // namespace airlatch
