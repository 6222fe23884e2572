// SPDX-License-Identifier: GPL-3.0-or-later
// summary.hpp: extremes, sums and differences of a stretch of samples, in one SIMD pass.
//
// In    finite or other samples, in order.
// Out   least and greatest, whether all are finite; what the noise is learnt from: squares of the
//       successive differences, each limited, and the smallest change; sums and moments.
// How   eight lanes, added up in one fixed order, so that every processor gives the same bytes; the
//       widest SIMD registers available are chosen at run time. The decoders look at single samples
//       only where a summary says that one of them may matter.
// Cost  about a fifth of a nanosecond a sample.
#pragma once
#include <span>

namespace airlatch {

struct Extremes {
  float least = 0, most = 0;  // NaN left out; least > most: there is none
  bool all_finite = true;
};
Extremes extremes_of(std::span<const float> values);

// Of neighbours' differences.
struct Changes {
  double squares = 0;  // sum of min(d^2, limit)
  float least = 0;     // smallest |d| that is not 0; 0: nothing moved
};
// REQUIRES: all finite; limit >= 0, may be infinite.
Changes changes_of(std::span<const float> values, float limit);

// Sum, and sum of squares about `about`. REQUIRES: all finite.
double sum(std::span<const float> values);
double squares_about(std::span<const float> values, double about);

// Sums of two stretches of the same length, and of their products. REQUIRES: all finite.
struct Moments {
  double a = 0, b = 0, ab = 0, aa = 0, bb = 0;
};
Moments moments(std::span<const float> a, std::span<const float> b);

// The same about the means, of n pairs. In doubles, a voltage's spread of a millivolt keeps six
// digits beside its twelve volts. REQUIRES: n > 0.
struct Spread {
  double mean_a = 0, mean_b = 0, ab = 0, aa = 0, bb = 0;
};
Spread about_means(const Moments& of, double n);

}  // namespace airlatch
