// SPDX-License-Identifier: GPL-3.0-or-later
// quiet.hpp: when nothing happens, what the channels show is their noise.
//
// In    kMotorOn / kMotorOff and feed edges; all tracks.
// Out   nothing; it fills the context's NoiseBook.
// How   quiet is what lies clear of every edge, with the motor off, on both sides: an edge is known at
//       most kGuard_s after it happened. A stretch that holds more than noise (a flicker, a spike) is
//       left out.
// Cost  that of the NoiseBook, while it wants more.
#pragma once
#include <array>

#include "decoders/decoder.hpp"

namespace airlatch {

class Quiet final : public Decoder {
 public:
  static constexpr double kGuard_s = 0.35;      // before what is yet to be told
  static constexpr double kAfterFeed_s = 0.1;   // contacts and sources have settled
  static constexpr double kAfterMotor_s = 0.5;  // it has come to rest
  using Decoder::Decoder;
  void on_edge(const Edge& lower) override;
  void on_tick(double now_s) override;

 private:
  void look(Role role, double now_s);
  bool running_ = false;
  double from_s_ = 0;                           // quiet from here on, as far as is known
  std::array<std::int64_t, kRoles> next_ = {};  // the next sample to learn from
};

}  // namespace airlatch
