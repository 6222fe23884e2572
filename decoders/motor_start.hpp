// SPDX-License-Identifier: GPL-3.0-or-later
// motor_start.hpp: MOTOR_START, with inrush peak, delay after the feed, and sag of the supply.
//
// In    kFeedOn / kFeedOff and kMotorOn / kMotorOff edges; supply and pressure samples.
// Out   MOTOR_START at the 10 % instant; `inrush_peak` A, `feed_to_start` s, `supply_sag` V (supply
//       just before the start minus supply at the inrush peak), `supply_resistance` Ω.
// How   the sag is the source's own resistance, by regression of supply on current over the inrush
//       (JCGM 100 H.3), times the peak: one sample at the peak would be noise. The event waits
//       until the pressure has shown the direction, at most kLongestWait_s; after that, contact or
//       current sign give it if they have been learnt.
// Cost  O(1).
#pragma once
#include <array>

#include "decoders/decoder.hpp"

namespace airlatch {

class MotorStart final : public Decoder {
 public:
  static constexpr double kLongestWait_s = 1.5;
  using Decoder::Decoder;
  void on_edge(const Edge& lower) override;
  void on_tick(double now_s) override;
  void finish(double end_s) override;

 private:
  void add_sag(const Edge& start);
  void announce(double until_s, bool last);
  std::optional<Edge> start_;
  Event event_;                             // what is known of it so far
  std::array<std::optional<Edge>, 3> fed_;  // by contact: the FEED_ON of a feed that is on
};

}  // namespace airlatch
