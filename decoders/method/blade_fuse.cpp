// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/method/blade_fuse.hpp"

#include <array>
#include <limits>

namespace airlatch {
namespace {

struct Tested {
  double share, not_before_s, not_after_s;
};
constexpr double kForEver_s = std::numeric_limits<double>::infinity();
constexpr std::array<Tested, 6> kTested = {{{1.10, 360'000, kForEver_s},
                                            {1.35, 0.75, 600},
                                            {1.60, 0.25, 50},
                                            {2.00, 0.15, 5},
                                            {3.50, 0.08, 0.5},
                                            {6.00, 0.03, 0.1}}};

}  // namespace

FuseOpening blade_fuse_opening(double share) {
  FuseOpening opening{0, std::nullopt};
  for (const Tested& tested : kTested)
    if (tested.share >= share) {
      opening.not_before_s = tested.not_before_s;  // of the next higher current
      break;
    }
  for (const Tested& tested : kTested)
    if (tested.share <= share && tested.not_after_s < kForEver_s)
      opening.not_after_s = tested.not_after_s;  // of the next lower current
  return opening;
}

}  // namespace airlatch
