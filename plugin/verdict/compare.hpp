// SPDX-License-Identifier: GPL-3.0-or-later
// compare.hpp: two states of one car, measure by measure: is the change real?
//
// How   events are paired by kind and direction in their order, not by the clock. The difference
//       of a measure has the combined standard uncertainty of both (JCGM 100, 5.1.2; instruments
//       taken as independent, which errs on the side of "no real change"); beyond twice that it is
//       real, and improved or worse by what the measure is good for.
#pragma once
#include <vector>

#include "decoders/event.hpp"
#include "plugin/message/report.hpp"

namespace airlatch {

// The four verdicts, as they are written.
inline constexpr char kImproved[] = "improved";
inline constexpr char kWorse[] = "worse";
inline constexpr char kNoRealChange[] = "no real change";
inline constexpr char kNotComparable[] = "not comparable";

std::vector<Report::Change> compare_events(const std::vector<Event>& before,
                                           const std::vector<Event>& after);

}  // namespace airlatch
