// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/rehearse/true_event.hpp"

namespace airlatch {

Event true_event(Kind kind, double t_s, int contact, bool command) {
  Event event;
  event.kind = kind;
  event.time_s = t_s;
  event.contact = command ? Contact::NONE : contact == 0 ? Contact::A : Contact::B;
  event.direction = contact == 0 ? Direction::PRESSURE : Direction::VACUUM;
  return event;
}

}  // namespace airlatch
