// SPDX-License-Identifier: GPL-3.0-or-later
// direction_reversal.hpp: the first run whose direction differs from the run before
// (DIRECTION_REVERSAL).
//
// In    MOTOR_START and stop events of lower decoders, with contact and direction.
// Out   DIRECTION_REVERSAL at the MOTOR_START of that run, with `rest_time` s. A changed contact is
//       a changed direction even when neither is known by name.
// How   directions as the runs' events name them (`pressure_direction`), else by the contacts.
// Cost  O(1).
#pragma once
#include <optional>

#include "decoders/decoder.hpp"

namespace airlatch {

class DirectionReversal final : public Decoder {
 public:
  using Decoder::Decoder;
  void on_event(const Event& lower) override;

 private:
  struct Run {
    double start_s = 0, start_u_s = 0, stop_s = 0, stop_u_s = 0;
    Direction direction = Direction::UNKNOWN;
    Contact contact = Contact::NONE;
    bool stopped = false;
  };
  void compare();
  std::optional<Run> before_, now_;
  bool reported_ = false;  // the present run's reversal
};

}  // namespace airlatch
