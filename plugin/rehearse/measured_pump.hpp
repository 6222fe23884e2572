// SPDX-License-Identifier: GPL-3.0-or-later
// measured_pump.hpp: the made-up pump with its instruments, advanced in time.
//
// In    what is done to the pump, and until when time goes on.
// Out   the channels, a sample wherever the clock has one, and the noise-free course of each
//       movement.
// How   the model goes on from sample to sample, and in steps of at most kFine_s while anything
//       moves; each such step is a point of the course.
#pragma once
#include <cstdint>
#include <utility>
#include <vector>

#include "decoders/stream/sample_block.hpp"
#include "plugin/rehearse/course.hpp"
#include "plugin/rehearse/pump_model.hpp"
#include "plugin/rehearse/random.hpp"
#include "plugin/rehearse/sensors.hpp"

namespace airlatch {

class MeasuredPump {
 public:
  static constexpr double kFine_s = 20e-6;

  // bits 0: no quantisation. The noise's random numbers are used for nothing else.
  MeasuredPump(const PumpParameters& parameters, const SampleClock& clock,
               std::vector<Sensor> sensors, int bits, const Random& noise);

  [[nodiscard]] PumpModel& model() { return model_; }
  void set_command(bool high) { command_high_ = high; }
  // Throws std::invalid_argument where the readings would be too many to hold.
  void run_to(double to_s);
  // Adds a point to the course, without time going on: something has just been switched.
  void record();
  [[nodiscard]] bool in_movement() const { return !course_.empty(); }
  // The motor is at rest: what was recorded is one movement.
  void end_movement(bool by_feed, double feed_on_s, bool restarted);

  [[nodiscard]] const std::vector<Movement>& movements() const { return movements_; }
  [[nodiscard]] double end_s() const;  // where the next sample would stand
  std::vector<SensorChannel> take_channels() { return std::move(channels_); }

 private:
  [[nodiscard]] bool moving() const;
  [[nodiscard]] double command_v() const;
  void sample();
  void look();  // what instruments with a memory see now

  PumpModel model_;
  SampleClock clock_;
  std::vector<Instrument> instruments_;
  bool any_remembers_ = false;
  double average_s_ = 0;  // of the readings; 0: they are of an instant
  int bits_;
  Random noise_;
  std::vector<SensorChannel> channels_;  // one a sensor
  std::int64_t samples_ = 0;             // in each
  bool command_high_ = false;
  Course course_;  // of the movement that is under way
  std::vector<Movement> movements_;
};

}  // namespace airlatch
