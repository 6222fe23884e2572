// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/live/fuse_watch.hpp"

#include <cmath>

#include "decoders/method/blade_fuse.hpp"

namespace airlatch {

bool FuseWatch::warns(double current_a, double now_s) {
  if (rating_a_ <= 0) return false;
  const FuseOpening opening = blade_fuse_opening(std::abs(current_a) / rating_a_);
  if (!opening.not_after_s) {
    over_since_s_.reset();
    return false;
  }
  if (!over_since_s_) over_since_s_ = now_s;
  if (now_s - *over_since_s_ < kShare * opening.not_before_s) return false;
  over_since_s_.reset();
  return true;
}

}  // namespace airlatch
