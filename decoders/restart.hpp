// SPDX-License-Identifier: GPL-3.0-or-later
// restart.hpp: a motor that starts again by itself (RESTART).
//
// In    MOTOR_START, STALL_CUTOFF and feed events of lower decoders.
// Out   RESTART at a MOTOR_START whose contact's feed has not been removed since the last cut-off,
//       with `hold_time` s from that cut-off.
// How   bookkeeping. Without a feed channel it is not known whether the feed stayed, so nothing is
//       reported.
// Cost  O(1).
#pragma once
#include "decoders/decoder.hpp"

namespace airlatch {

class Restart final : public Decoder {
 public:
  using Decoder::Decoder;
  void on_event(const Event& lower) override;

 private:
  void again(const Event& start);

  std::optional<Event> cutoff_;  // the last one whose feed is still on
};

}  // namespace airlatch
