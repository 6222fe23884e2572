// summary.hpp: what a stretch of samples is like as a whole, in one pass of wide registers.
//
// In    finite or other samples, in order.
// Out   least and greatest, how many are not finite; what the noise is learnt from: squares of the
//       successive differences, each limited, and the smallest change.
// How   eight lanes, added up in one fixed order, so that every processor gives the same bytes; the
//       widest registers there are are chosen at run time. The decoders look at single samples only
//       where a summary says that one of them may matter.
// Cost  about half a nanosecond a sample.
#pragma once
#include <span>

namespace airlatch {

struct Summary {
  float least = 0, most = 0;  // NaN left out; least > most: there is none
  bool all_finite = true;
};
Summary summarise(std::span<const float> values);

struct Differences {
  double squares = 0;      // sum of min(d^2, limit)
  float least_change = 0;  // smallest |d| that is not 0; 0: nothing moved
};
// Differences of neighbours, `values.size() - 1` of them. REQUIRES: all finite; limit >= 0, may be
// infinite.
Differences differences(std::span<const float> values, float limit);

// Sum, and sum of squares about `about`. REQUIRES: all finite.
double sum(std::span<const float> values);
double squares_about(std::span<const float> values, double about);

}  // namespace airlatch
