// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/rehearse/measured_pump.hpp"

#include <algorithm>
#include <stdexcept>

namespace airlatch {
namespace {

constexpr double kMostReadings = 200e6;  // 800 MB: a rehearsal is held in memory

}  // namespace

MeasuredPump::MeasuredPump(const PumpParameters& parameters, const SampleClock& clock,
                           std::vector<Sensor> sensors, int bits, const Random& noise)
    : model_(parameters), clock_(clock), bits_(bits), noise_(noise) {
  for (const Sensor& sensor : sensors) {
    channels_.push_back({sensor.name, sensor.role, {}});
    instruments_.emplace_back(sensor, clock.period_s());
    any_remembers_ = any_remembers_ || instruments_.back().remembers();
    average_s_ = std::max(average_s_, sensor.average_s);
  }
}

bool MeasuredPump::moving() const {
  return model_.driven() || model_.speed_rad_s() > 0 || model_.current_a() > 0;
}

double MeasuredPump::end_s() const { return static_cast<double>(clock_.time_ns(samples_)) * 1e-9; }

void MeasuredPump::run_to(double to_s) {
  if (to_s / clock_.period_s() * static_cast<double>(instruments_.size()) > kMostReadings)
    throw std::invalid_argument(
        "this would be more than 200 million readings; use a lower --rate or a shorter --hold");
  while (model_.time_s() < to_s - 1e-9) {
    const double next_s = end_s();
    if (next_s <= model_.time_s() + 1e-12) {
      sample();
      continue;
    }
    double step_to_s = std::min(to_s, std::max(next_s, model_.time_s()));
    // A pump that starts again by itself may do so between two samples.
    if (moving() || model_.parameters().rearms)
      step_to_s = std::min(step_to_s, model_.time_s() + kFine_s);
    // Readings that are means begin between two of them.
    const double begins_s = next_s - average_s_;
    const bool begins = average_s_ > 0 && model_.time_s() < begins_s && step_to_s >= begins_s;
    if (begins) step_to_s = begins_s;
    model_.advance(step_to_s);
    if (any_remembers_) look();
    if (begins)
      for (Instrument& each : instruments_) each.begin_average();
    record();
  }
}

double MeasuredPump::command_v() const { return command_high_ ? model_.parameters().u_oc_v : 0; }

void MeasuredPump::look() {
  for (Instrument& each : instruments_)
    if (each.remembers())
      each.see(model_.time_s(), quantity(each.sensor().role, model_, command_v()));
}

void MeasuredPump::sample() {
  for (std::size_t c = 0; c < instruments_.size(); ++c) {
    const double value = quantity(instruments_[c].sensor().role, model_, command_v());
    channels_[c].values.push_back(instruments_[c].read(model_.time_s(), value, bits_, noise_));
  }
  ++samples_;
}

void MeasuredPump::record() {
  const CoursePoint point{.t_s = model_.time_s(),
                          .i_a = model_.current_a(),
                          .supply_v = model_.supply_v(),
                          .feed_v = model_.feed_v(model_.contact()),
                          .return_v = model_.return_v(),
                          .line_kpa = model_.line_kpa(),
                          .w_rad_s = model_.speed_rad_s(),
                          .isothermal_kpa = model_.isothermal_kpa(),
                          .excess_k = model_.excess_k()};
  if (course_.empty() && moving()) {
    // A point of rest just before, for crossings of the first step.
    CoursePoint rest = point;
    rest.i_a = 0;
    rest.supply_v = model_.parameters().u_oc_v;
    rest.t_s = point.t_s - kFine_s;
    course_.push_back(rest);
  }
  if (!course_.empty()) course_.push_back(point);
}

void MeasuredPump::end_movement(bool by_feed, double feed_on_s, bool restarted) {
  if (course_.size() > 2)
    movements_.push_back({std::move(course_), model_.contact(), by_feed, feed_on_s, restarted});
  course_.clear();
}

}  // namespace airlatch
