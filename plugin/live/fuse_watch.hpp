// SPDX-License-Identifier: GPL-3.0-or-later
// fuse_watch.hpp: warns before the lead's fuse opens.
//
// In    the motor current as it is measured, the fuse's rating.
// Out   a warning once the current has been one that the fuse must open at (blade_fuse) for
//       kShare of the shortest time it may take; as long as the current stays, again after as long.
#pragma once
#include <optional>

namespace airlatch {

class FuseWatch {
 public:
  static constexpr double kShare = 0.5;  // common practice, no source

  explicit FuseWatch(double rating_a) : rating_a_(rating_a) {}  // 0: there is none to watch
  // `now_s`: rising, from any origin. True: the feed must come off now.
  bool warns(double current_a, double now_s);

 private:
  double rating_a_;
  std::optional<double> over_since_s_ = {};
};

}  // namespace airlatch
