// SPDX-License-Identifier: GPL-3.0-or-later
// no_response.hpp: a fed contact that draws no motor current (NO_RESPONSE).
//
// In    kFeedOn / kFeedOff edges, kMotorOn / kMotorOff edges, the current's track.
// Out   NO_RESPONSE at the FEED_ON instant of a feed that drew no current for response_limit, with
//       `waited` s. A feed taken away sooner has not been tried and gives nothing; without current
//       samples in that time it cannot be known and gives nothing.
// How   bookkeeping; decided when a start inside the limit would have been reported.
// Cost  O(1).
#pragma once
#include <array>

#include "decoders/decoder.hpp"

namespace airlatch {

class NoResponse final : public Decoder {
 public:
  using Decoder::Decoder;
  void on_edge(const Edge& lower) override;
  void on_tick(double now_s) override;

 private:
  struct Wait {
    Edge feed = {};
    std::optional<double> off_s = {};
  };
  std::array<std::optional<Wait>, 3> waits_;  // by contact
  bool running_ = false;
};

}  // namespace airlatch
