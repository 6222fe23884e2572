// SPDX-License-Identifier: GPL-3.0-or-later
// energy.hpp: electrical energy of a run, `energy` J.
//
// How   trapezoid of voltage times current over the current's samples; the voltage is that across
//       the pump (feed of the driven contact less return), interpolated to the same instants.
//       Without a return channel the contact's own voltage is used, without a feed channel the
//       supply's, and the note says so: the wiring's loss is then in it. The current's zero is put right
//       once that after the run is known too; its uncertainty acts with the whole run's voltage. While a contact
//       bounces current flows only when the voltage is there, so that the product of a sample's two
//       means is too small, by as much as the voltage lacks at most: half of it counts.
#pragma once
#include "decoders/measure/run_measure.hpp"

namespace airlatch {

class Energy final : public RunMeasure {
 public:
  static constexpr double kLeastReadings = 8;
  void take(const CaptureContext& context, const RunFacts& run, double from_s,
            double to_s) override;
  void add_to(Event& stop, const CaptureContext& context, const RunFacts& run) override;

 private:
  void add(double t_s, double u_v, double a, double noise_a, double noise_v, double start_s);
  [[nodiscard]] static double settled_v(const CaptureContext& context, const RunFacts& run);
  double energy_j_ = 0, variance_ = 0, n_ = 0;
  double chatter_j_ = 0;  // what products of means may have missed while a contact bounced
  double charge_as_ = 0, volt_s_ = 0;  // for the mean current and voltage
  bool clipped_ = false;
  double last_s_ = 0, last_w_ = 0;
  double first_w_ = 0, first_gap_s_ = 0;
};

}  // namespace airlatch
