// SPDX-License-Identifier: GPL-3.0-or-later
// motor_current.hpp: when the motor draws current; the edges that all motor events are made of.
//
// In    MOTOR_CURRENT samples; the feeds' recent samples to see which contact is fed.
// Out   edges kMotorOn, kMotorDips, kMotorBack, kMotorOff.
// How   two states with thresholds from the noise and the running level; instants by IEEE Std 181
//       reference levels: 10 % between off and inrush peak at a start, 50 % between running and off
//       at a fall. The probe's zero is tracked while the motor is off, since clamps drift. A fall
//       that lasts kLongestDropout_s is a stop; a shorter one a dropout (contract).
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
  enum class State { kOff, kRising, kOn, kLow };
  void advance(double now_s, bool last);
  bool step_off(double now_s, bool last);
  bool step_rising(double now_s, bool last);
  bool step_on(double now_s, bool last);
  bool step_low(double now_s, bool last);
  [[nodiscard]] std::optional<StartTransient> fitted_start(std::int64_t k) const;
  void announce_start(double now_s);
  void follow_zero(double now_s);
  void follow_level();
  [[nodiscard]] const Track& current() const { return context_.track(Role::MOTOR_CURRENT); }
  [[nodiscard]] TwoState::View view() const { return {.zero = zero_, .magnitude = true}; }
  [[nodiscard]] double least() const;

  State state_ = State::kOff;
  TwoState two_state_;
  double zero_ = 0;
  bool zero_known_ = false;
  double zero_until_s_ = 0;  // samples before it are in the zero already
  double off_since_s_ = 0;   // the zero is learnt from here on
  std::int64_t rise_k_ = 0;
  double level_ = 0;  // running level, above zero
  double level_until_s_ = 0;
  bool settled_ = false;  // the inrush is over: level_ is the running level
  Edge dip_ = {};
  Contact run_contact_ = Contact::NONE;
  double run_sign_ = 1;
};

}  // namespace airlatch
