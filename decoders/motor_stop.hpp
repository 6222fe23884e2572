// SPDX-License-Identifier: GPL-3.0-or-later
// motor_stop.hpp: the end of a run and its cause (STALL_CUTOFF, MOTOR_STOP), with the run's
// measures.
//
// In    kMotorOn / kMotorOff edges, feed edges; all tracks through the measures.
// Out   STALL_CUTOFF where the feed stayed on when the current fell, MOTOR_STOP where the feed went
//       within kTogether_s; both at the 50 % instant, with the run measures of decoders/measure.
// How   when the current falls, the feed is examined. Where both fall within one reading, or no
//       feed is measured, the cause is not known: MOTOR_STOP, and the note says so.
// Cost  that of the measures. Reported 0.5 s after the stop, when it can no longer be a dropout.
#pragma once
#include <array>
#include <memory>
#include <vector>

#include "decoders/decoder.hpp"
#include "decoders/measure/run_measure.hpp"

namespace airlatch {

class MotorStop final : public Decoder {
 public:
  static constexpr double kTogether_s = 0.005;
  static constexpr double kLag_s = 0.8;  // samples older than this belong to the run for certain
  using Decoder::Decoder;
  void on_edge(const Edge& lower) override;
  void on_tick(double now_s) override;

 private:
  void begin(const Edge& start);
  void end(const Edge& stop);
  void see_zero_after();
  void take_until(double to_s);
  [[nodiscard]] Kind cause(const Edge& stop, Event& event) const;

  struct FeedState {
    bool seen = false, on = false;
    double off_s = 0, off_u_s = 0;
  };
  std::array<FeedState, 3> feeds_ = {};  // by contact
  std::optional<RunFacts> run_;
  std::vector<std::unique_ptr<RunMeasure>> measures_;
  double taken_until_s_ = 0;
  std::optional<Contact> merged_with_ = {};  // fed while the current never fell
  std::optional<double> dipped_s_;
};

}  // namespace airlatch
