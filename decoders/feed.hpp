// SPDX-License-Identifier: GPL-3.0-or-later
// feed.hpp: when the source reaches a contact and when it leaves it (FEED_ON, FEED_OFF).
//
// In    FEED_A_VOLTAGE, FEED_B_VOLTAGE, COMMAND_LEVEL samples; the motor's dips.
// Out   FEED_ON / FEED_OFF at the 50 % reference level instants (IEEE Std 181), with the `level` of
//       the fed state; the same as edges. The command line counts as a feed with contact NONE.
// How   two states with fixed hysteresis find the change; the state levels on both sides give the
//       instant. A released contact does not fall to zero while the motor coasts: its back-EMF
//       (u - R i, then dying with the speed) holds it up. So when the current dips, the feed
//       is compared before and after: lower after means that the source has left; a cut-off inside
//       the pump takes the load off and the voltage rises. Without a current channel the knee where
//       the fall began is taken instead.
// Cost  O(1) memory beside the track; a change is reported 50 ms after it.
#pragma once
#include <array>
#include <optional>

#include "decoders/decoder.hpp"
#include "decoders/two_state.hpp"

namespace airlatch {

class Feed final : public Decoder {
 public:
  explicit Feed(CaptureContext& context);
  void on_edge(const Edge& lower) override;
  void on_tick(double now_s) override;
  void finish(double end_s) override;

 private:
  enum class State { kOff, kOn, kCoasting };
  struct Line {
    Contact contact = Contact::NONE;
    State state = State::kOff;
    TwoState two_state = {};
    std::optional<std::int64_t> risen = {};  // FEED_ON found, its level not yet known
    double back_above_v = 0;                 // while coasting: the source is back above this
    double on_since_s = 0;
  };
  void advance(Line& line, double now_s, bool last);
  void announce_on(Line& line);
  void announce_off(Line& line, std::int64_t k);
  void judge_dip(Line& line, const Edge& dip);
  void say(const Line& line, bool on, Uncertain time_s, Uncertain level_v);
  [[nodiscard]] const Track& track(const Line& line) const {
    return context_.track(CaptureContext::feed_role(line.contact));
  }
  [[nodiscard]] double scale_v(const Line& line) const;  // of the thresholds

  std::array<Line, 3> lines_;
  std::optional<Edge> dip_;  // waits for the samples after it
};

}  // namespace airlatch
