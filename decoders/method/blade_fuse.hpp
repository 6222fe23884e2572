// SPDX-License-Identifier: GPL-3.0-or-later
// blade_fuse.hpp: how long a blade fuse carries a constant current.
//
// How   the opening-time limits of ISO 8820-3 / SAE J1284 fuses as quoted in public data: a fuse at
//       a tested share of its rating opens neither before nor after the two times. Between tested
//       currents the standard says nothing: the bracket is the next lower current's longest and
//       the next higher current's shortest time, never a single time.
#pragma once
#include <optional>

namespace airlatch {

struct FuseOpening {
  double not_before_s = 0;
  std::optional<double> not_after_s = {};  // empty: it may hold for ever
};

// `share`: current over rating, 0 or more.
FuseOpening blade_fuse_opening(double share);

}  // namespace airlatch
