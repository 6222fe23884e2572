// SPDX-License-Identifier: GPL-3.0-or-later
// motor_parameters.hpp: the motor's own constants, from its start: `motor_resistance` Ω,
// `motor_inductance` H, `mechanical_time_constant` s, and with a shaft speed `motor_constant` V·s.
//
// How   a permanent-magnet motor from rest: u = R i + L di/dt + k w, J dw/dt = k i - T. The speed
//       is not measured, but its integral equation is linear in the unknowns,
//         u = R i + L di/dt + (k^2/J) q - (k T/J) t,   q the charge since the start,
//       so that least squares on the first kWindow_s give R, L and k^2/J, and the mechanical time
//       constant R J/k^2. Means over each sample interval make di/dt exact; noise of the current in
//       di/dt (errors in variables) is taken out with its known variance. u is the voltage between
//       the pump's contacts. The constant k comes from the end of the run: (u - R i) / w.
// Cost  sixty milliseconds of sums, one 4 x 4 solution.
#pragma once
#include <Eigen/Dense>

#include "decoders/measure/run_measure.hpp"

namespace airlatch {

class MotorParameters final : public RunMeasure {
 public:
  static constexpr double kLeastRate_hz = 5000;  // ten samples in two electrical time constants
  static constexpr double kWindow_s = 0.06;
  void take(const CaptureContext& context, const RunFacts& run, double from_s,
            double to_s) override;
  void add_to(Event& stop, const CaptureContext& context, const RunFacts& run) override;

 private:
  Eigen::Matrix4d normal_ = Eigen::Matrix4d::Zero();
  Eigen::Vector4d right_ = Eigen::Vector4d::Zero();
  double squares_ = 0, n_ = 0;
  double last_s_ = 0, last_a_ = 0, last_v_ = 0, charge_as_ = 0, most_a_ = 0;
  bool started_ = false, broken_ = false;
};

}  // namespace airlatch
