// compare.hpp: two states of one car, measure by measure: is the change real?
//
// How   events are paired by kind and direction in their order, not by the clock. The difference of
// a
//       measure has the combined standard uncertainty of both (JCGM 100, 5.1.2; instruments taken
//       as independent, which errs on the side of "no real change"); beyond twice that it is real,
//       and improved or worse by what the measure is good for.
#pragma once
#include <string>
#include <vector>

#include "airlatch/v1/event.pb.h"

namespace airlatch {

enum class Change { kImproved, kWorse, kNoRealChange, kNotComparable };

struct Comparison {
  std::string event;    // "LEAK_DECAY, blowing"
  std::string measure;  // empty: the event itself is on one side only
  v1::Measure before, after;
  double change = 0, u = 0;
  Change verdict = Change::kNotComparable;
  std::string reason;  // why it cannot be compared
};

std::vector<Comparison> compare_events(const std::vector<v1::Event>& before,
                                       const std::vector<v1::Event>& after);

}  // namespace airlatch
