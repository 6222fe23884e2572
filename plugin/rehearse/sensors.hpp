// SPDX-License-Identifier: GPL-3.0-or-later
// sensors.hpp: how a quantity becomes a channel.
//
// In    quantities of the system, in the unit of their role.
// Out   readings, and the rig that describes the instruments as a technician knows them.
// How   reading = quantity × gain + offset + noise, rounded to the converter's step (the range over
//       2^bits), held at the range's ends. Gain, offset and noise are normal; a sensor keeps its gain
//       and offset.
#pragma once
#include <cstdint>
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
  // What the plain world's sensors do not have (wild.hpp).
  double flicker = 0;              // standard deviation in each factor of four of frequency
  std::uint64_t flicker_seed = 0;  // of random numbers of its own
  double hum = 0, hum_hz = 50, hum_phase = 0;
  double drift = 0, drift_hz = 0;  // slow, there and back
  double lag_s = 0, lag_stated_s = 0;
  double average_s = 0;  // a reading is the mean over that long, ending at its time
  bool average_stated = false;
};
constexpr double kLagKnown = 0.1;  // relative, to whoever writes the rig

// The instruments of the script's pump, each with a gain and an offset of its own.
std::vector<Sensor> sensors_of(const RehearseOptions& options, const Script& script,
                               Random& random);

Rig rig_of(const std::vector<Sensor>& sensors, const PumpParameters& p, Random& random);

// What is there to be measured. `command_v`: the voltage of the command line.
double quantity(Role role, const PumpModel& model, double command_v);

// bits 0: no quantisation.
float reading(const Sensor& sensor, double quantity, int bits, Random& noise);

// A sensor as time goes on: its lag, its averaging, and the noise that remembers.
class Instrument {
 public:
  Instrument(const Sensor& sensor, double period_s);
  [[nodiscard]] const Sensor& sensor() const { return sensor_; }
  // Whether it has to be shown the quantity between its readings.
  [[nodiscard]] bool remembers() const { return sensor_.lag_s > 0 || sensor_.average_s > 0; }
  void see(double t_s, double quantity);  // in rising order of time
  void begin_average();                   // with what was seen last
  float read(double t_s, double quantity, int bits, Random& noise);

 private:
  double flicker();
  Sensor sensor_;
  bool seen_ = false;
  double seen_s_ = 0, quantity_ = 0, shown_ = 0;  // shown: behind the lag
  double sum_ = 0, sum_s_ = 0;
  struct Relaxation {
    double keeps = 0, value = 0;
  };
  std::vector<Relaxation> relaxations_;
  Random own_;
};

}  // namespace airlatch
