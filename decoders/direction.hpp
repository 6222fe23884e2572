// SPDX-License-Identifier: GPL-3.0-or-later
// direction.hpp: which way the pump moves the air, by the pressure.
//
// How   the sign of the pressure's change during the run decides. What such runs show about
//       contacts and current signs is kept in the DirectionBook, for runs without a pressure
//       channel.
#pragma once
#include "decoders/context.hpp"

namespace airlatch {

// The direction by the pressure between from_s and to_s; UNKNOWN when it has not moved by more
// than its noise and kLeastMove_kpa allow to say.
Direction pressure_direction(const CaptureContext& context, double from_s, double to_s);
constexpr double kLeastMove_kpa = 0.5;

}  // namespace airlatch
