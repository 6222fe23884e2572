// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/method/uncertainty.hpp"

namespace airlatch {

double combine(double u1, double u2, double u3, double u4) {
  return std::sqrt(u1 * u1 + u2 * u2 + u3 * u3 + u4 * u4);
}

}  // namespace airlatch
