// SPDX-License-Identifier: GPL-3.0-or-later
// feed.hpp: when the source reaches a contact and when it leaves it (FEED_ON, FEED_OFF).
//
// In    FEED_A_VOLTAGE, FEED_B_VOLTAGE, COMMAND_LEVEL samples; the motor's edges.
// Out   FEED_ON / FEED_OFF at the 50 % reference level instants (IEEE Std 181), with the `level`
//       from 20 to 50 ms after the edge, and the source's at the same time (`supply_level`); the
//       same as edges. The command line counts as a feed with
//       contact NONE.
// How   two states with fixed hysteresis find the change; the state levels on both sides give the
//       instant. A contact counts as fed once it stands above half the source's voltage, or drives
//       the motor: less is crosstalk, a flicker, a reading that has caught a part of an edge. A
//       released contact does not fall to zero while the motor coasts: its back-EMF (u - R i, then
//       dying with the speed) holds it up. So when the current dips, the feed is looked at from there
//       on: where it falls with the current the source has left; a cut-off inside the pump takes the
//       load off and the voltage rises, and what happens to the contact later is its own affair.
//       Without a current channel the knee where the fall began is taken instead.
// Cost  O(1) memory beside the track; a change is reported 50 ms after it, or two readings.
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
  struct Released {  // a fall whose level afterwards has not been seen yet
    Uncertain time_s = {};
    double before_v = 0;
  };
  struct Line {
    Contact contact = Contact::NONE;
    State state = State::kOff;
    TwoState two_state = {};
    std::optional<std::int64_t> risen = {};  // a rise that has not been announced yet
    std::optional<Released> released = {};
    double back_above_v = 0;  // while coasting: the source is back above this
    double on_since_s = 0;
  };
  struct Thresholds {
    double up_v = 0, down_v = 0;
  };
  void advance(Line& line, double now_s, bool last);
  void rise(Line& line, double now_s, bool last);
  void fall(Line& line, std::int64_t k, double now_s);
  [[nodiscard]] bool fed(const Line& line, std::int64_t k, double until_s) const;
  void announce_on(Line& line, double until_s);
  void release(Line& line, std::int64_t k);
  void leave(Line& line, Uncertain time_s, double before_v);
  void announce_off(Line& line, double until_s);
  void judge_dip(Line& line, const Edge& dip);
  void judge_dips(double now_s, bool last);
  void say(const Line& line, bool on, Uncertain time_s, double fed_v, double until_s);
  [[nodiscard]] const Track& track(const Line& line) const {
    return context_.track(CaptureContext::feed_role(line.contact));
  }
  [[nodiscard]] double average_s(const Line& line) const {
    return context_.entry(CaptureContext::feed_role(line.contact)).average_s;
  }
  [[nodiscard]] Thresholds thresholds(const Line& line) const;
  [[nodiscard]] double enough_v(const Line& line, double from_s, double to_s) const;
  [[nodiscard]] static bool seen_after(const Track& feed, double edge_s, double now_s);

  std::array<Line, 3> lines_;
  std::optional<Edge> dip_;  // waits for the samples after it
};

}  // namespace airlatch
