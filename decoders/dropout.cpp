// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/dropout.hpp"

namespace airlatch {

void Dropout::on_edge(const Edge& lower) {
  if (lower.what == Edge::What::kMotorDips) dip_ = lower;
  if (lower.what != Edge::What::kMotorBack) return;
  Event event;
  event.kind = Kind::DROPOUT;
  event.time_s = dip_.time_s;
  event.time_u_s = dip_.u_s;
  event.contact = dip_.contact;
  event.direction = context_.directions.of(dip_.contact, dip_.sign);
  add_measure(event, "duration", {lower.time_s - dip_.time_s, combine(lower.u_s, dip_.u_s)}, "s");
  emit(event);
}

}  // namespace airlatch
