// SPDX-License-Identifier: GPL-3.0-or-later
// line_watch.hpp: when something moves a line that was left alone.
//
// In    means of the pressure over equal steps; the channel's noise.
// Out   where a movement began: a stroke, a valve that opens, a door pulled by hand.
// How   what a closed line does by itself slows down: a leak and warmth that leaves both lose their
//       drive. Of three neighbouring means A, B, C over the same length, at three lengths, C - B may
//       therefore be anything between 0 and B - A; beyond that by kSigmas standard deviations of such
//       a difference (Hadamard's, method/noise_model) and kLeastShare of the pressure, something moved
//       it. Where no motor is measured, going away from ambient by more than that is a movement too.
// Cost  a dozen operations a step, three hundred steps kept.
#pragma once
#include <array>
#include <cstddef>
#include <optional>
#include <vector>

#include "decoders/method/noise_model.hpp"

namespace airlatch {

class LineWatch {
 public:
  static constexpr double kSigmas = 6;          // once in 1e9
  static constexpr double kLeastShare = 0.003;  // of the pressure (common practice, no source)
  struct Movement {
    double since_s = 0;   // nothing had moved before
    bool stroke = false;  // it went, or had just gone, away from ambient
  };
  // `pumped`: a pump that is not measured may move it.
  LineWatch(double step_s, bool pumped) : step_s_(step_s), pumped_(pumped) {}
  // What is known of the noise by now. REQUIRES: before the first step.
  void learn(const NoiseModel& noise);
  [[nodiscard]] double step_s() const { return step_s_; }
  // The mean over the step that began at time_s. REQUIRES: rising times.
  std::optional<Movement> add(double time_s, double mean_kpa);

 private:
  static constexpr std::array<std::size_t, 3> kLengths = {4, 16, 64};
  static constexpr std::size_t kKept = 256;
  struct Step {
    double time_s = 0, sum = 0;  // of all means before it
  };
  [[nodiscard]] const Step& back(std::size_t steps) const {
    return steps_[(count_ - steps) % kKept];
  }
  void put(double time_s, double mean_kpa);
  double step_s_;
  bool pumped_;
  std::array<double, kLengths.size()> least_kpa_ = {};
  std::array<Step, kKept> steps_ = {};
  std::size_t count_ = 0,
              first_ = 0;  // of all steps; that counts: what was moved is not looked at again
  double sum_ = 0, last_kpa_ = 0;
};

}  // namespace airlatch
