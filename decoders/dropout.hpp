// SPDX-License-Identifier: GPL-3.0-or-later
// dropout.hpp: short interruptions of the motor current (DROPOUT).
//
// In    kMotorDips and kMotorBack edges.
// Out   DROPOUT at the fall through half the running level, `duration` s to the return.
// How   the instants are the edges' (IEEE Std 181, 50 %); what stays away longer is a stop.
// Cost  O(1).
#pragma once
#include "decoders/decoder.hpp"

namespace airlatch {

class Dropout final : public Decoder {
 public:
  using Decoder::Decoder;
  void on_edge(const Edge& lower) override;

 private:
  Edge dip_ = {};
};

}  // namespace airlatch
