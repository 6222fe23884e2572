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
  // Of neighbours' differences, where all are finite.
  double squares = 0;      // sum of min(d^2, limit)
  float least_change = 0;  // smallest |d| that is not 0; 0: nothing moved
};
// REQUIRES: limit >= 0; may be infinite.
Summary summarise(std::span<const float> values, float limit);

// Sum, and sum of squares about `about`. REQUIRES: all finite.
double sum(std::span<const float> values);
double squares_about(std::span<const float> values, double about);

// Sums of two stretches of the same length, and of their products. REQUIRES: all finite.
struct Moments {
  double a = 0, b = 0, ab = 0, aa = 0, bb = 0;
};
Moments moments(std::span<const float> a, std::span<const float> b);

}  // namespace airlatch
