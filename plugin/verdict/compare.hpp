// SPDX-License-Identifier: GPL-3.0-or-later
// compare.hpp: two states of one car, measure by measure: is the change real, and is it good?
//
// How   events are paired by kind and direction (feeds by contact) in their order, not by the clock.
//       A change is real beyond twice the combined standard uncertainty of both values (JCGM 100,
//       5.1.2; instruments taken as independent) and of the spread from run to run: of the repeated
//       runs in the captures, or a stated share (repeatability() in compare.cpp; common practice, no
//       source). It is improved or worse where the measure has a limit, by its side of it, and by
//       more than a tenth of the limit; elsewhere it is just changed. Where a condition differs that
//       moves the measure by itself, it is corrected for or the row is not comparable.
#pragma once
#include <vector>

#include "decoders/event.hpp"
#include "plugin/message/report.hpp"
#include "plugin/session/limits.hpp"

namespace airlatch {

// The verdicts, as they are written.
inline constexpr char kImproved[] = "improved";
inline constexpr char kWorse[] = "worse";
inline constexpr char kChanged[] = "changed";
inline constexpr char kNoRealChange[] = "no real change";
inline constexpr char kNotComparable[] = "not comparable";

std::vector<Report::Change> compare_events(const std::vector<Event>& before,
                                           const std::vector<Event>& after, const Limits& limits);

}  // namespace airlatch
