// direction.hpp: which way the pump moves the air, and DIRECTION_REVERSAL.
//
// In    MOTOR_START and stop events of lower decoders, with contact and direction.
// Out   DIRECTION_REVERSAL at the MOTOR_START of the first run whose direction differs from the run
//       before, with `rest_time` s. A changed contact is a changed direction even when neither is
//       known by name.
// How   the sign of the pressure change during the run rules (`pressure_direction`); what it
// teaches
//       about contacts and current signs serves runs without a pressure channel.
// Cost  O(1).
#pragma once
#include "decoders/decoder.hpp"

namespace airlatch {

// The direction told by the pressure between from_s and to_s; UNKNOWN when it has not moved by more
// than its noise and kLeastMove_kpa allow to say.
v1::Direction pressure_direction(const Bench& bench, double from_s, double to_s);
constexpr double kLeastMove_kpa = 0.5;

class Reversal final : public Decoder {
 public:
  using Decoder::Decoder;
  void on_event(const v1::Event& lower) override;

 private:
  struct Run {
    double start_s = 0, start_u_s = 0, stop_s = 0, stop_u_s = 0;
    v1::Direction direction = v1::UNKNOWN;
    v1::Contact contact = v1::NONE;
    bool stopped = false;
  };
  void compare();
  std::optional<Run> before_, now_;
  bool told_ = false;  // the present run's reversal
};

}  // namespace airlatch
