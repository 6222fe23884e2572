// SPDX-License-Identifier: GPL-3.0-or-later
// motor_current.hpp: when the motor draws current; the edges that all motor events are made of.
//
// In    MOTOR_CURRENT samples; the feeds' recent samples to see which contact is fed.
// Out   edges kMotorOn, kMotorDips, kMotorBack, kMotorOff.
// How   two states with thresholds from the noise and the running level; instants by IEEE Std 181
//       reference levels: 10 % between off and inrush peak at a start, 50 % between running and off
//       at a fall. A running motor's current keeps its sign: one that reverses has fallen, and what a
//       motor draws through a short as it brakes is no run. Strong noise is averaged first, over 10 ms
//       at most; how far readings at rest stray, flicker included, sets the least current. The probe's
//       zero is tracked while the motor is off, since clamps drift. A fall that lasts
//       kLongestDropout_s is a stop; a shorter one a dropout (contract).
// Cost  O(1) memory beside the track; a start is reported kInrush_s after it, a stop 0.5 s.
#pragma once
#include "decoders/decoder.hpp"
#include "decoders/method/start_transient.hpp"
#include "decoders/two_state.hpp"

namespace airlatch {

class MotorCurrent final : public Decoder {
 public:
  static constexpr double kLongestDropout_s = 0.5;  // the contract: "less than 0.5 s"
  static constexpr double kInrush_s = 0.12;  // the peak lies within (common practice, no source)
  static constexpr double kLeastCurrent_a = 0.3;  // a lock pump's motor draws more (same)
  using Decoder::Decoder;
  void on_tick(double now_s) override;
  void finish(double end_s) override;

 private:
  enum class State { kOff, kRising, kOn, kLow, kBack };
  void smooth();
  void advance(double now_s, bool last);
  bool step_off(double now_s, bool last);
  bool step_rising(double now_s, bool last);
  bool step_on(bool last);
  bool step_low(double now_s, bool last);
  bool step_back(double now_s, bool last);
  [[nodiscard]] bool is_direct(double from_s) const;
  [[nodiscard]] bool from_source(double t_s) const;
  [[nodiscard]] bool scatters() const;
  [[nodiscard]] double down_level() const;
  [[nodiscard]] Uncertain edge_instant(std::int64_t k, double running, bool up) const;
  [[nodiscard]] std::optional<StartTransient> fitted_start(std::int64_t k,
                                                           std::optional<bool> averages) const;
  [[nodiscard]] std::optional<bool> averaged(double start_s) const;
  void highest_touch(std::int64_t first, Edge& edge) const;
  [[nodiscard]] Edge resolved_start() const;
  [[nodiscard]] Edge slow_start() const;
  void not_before_feed(Edge& edge) const;
  void announce_start();
  void follow_zero(double now_s);
  bool stands_elsewhere(double rest, double from_s, double to_s);
  void follow_level();
  [[nodiscard]] const Track& raw() const { return context_.track(Role::MOTOR_CURRENT); }
  // What is decided by: the readings, or their averages where they are lost in noise.
  [[nodiscard]] const Track& current() const { return smooth_n_ > 1 ? smooth_ : raw(); }
  [[nodiscard]] TwoState::View view() const { return {.zero = zero_, .magnitude = true}; }
  [[nodiscard]] TwoState::View rising_view() const;
  [[nodiscard]] double least() const;

  Track smooth_;
  std::int64_t smooth_n_ = 1, smoothed_ = 0;  // readings averaged; of them used so far
  bool smooth_known_ = false;
  State state_ = State::kOff;
  TwoState two_state_;
  double zero_ = 0;
  bool zero_known_ = false;
  double zero_until_s_ = 0;               // samples before it are in the zero already
  double zero_span_s_ = 0;                // the mean that the zero amounts to is about so long
  double rest_variance_ = 0;              // of readings at rest about the zero
  double rested_s_ = 0;                   // how long they have been watched
  std::optional<std::int64_t> low_ = {};  // a single low reading of a meter that scatters
  double elsewhere_ = 0, elsewhere_since_s_ = 0;  // where a zero that is off stands
  double off_since_s_ = 0;                        // the zero is learnt from here on
  std::int64_t rise_k_ = 0;
  double level_ = 0;  // running level, above zero
  double level_until_s_ = 0;
  bool settled_ = false;  // the inrush is over: level_ is the running level
  Edge dip_ = {};
  Contact run_contact_ = Contact::NONE;
  double run_sign_ = 1;
};

}  // namespace airlatch
