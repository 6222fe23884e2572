// SPDX-License-Identifier: GPL-3.0-or-later
// elementary.hpp: the elementary functions that events and rehearsals rest on, the same bytes on every
// processor. The system's are not: its mathematical library has versions with and without fused
// multiply-add, takes them by processor, and changes them from release to release.
//
// In    a number; special ones as in C (NaN, infinities, log of 0).
// Out   within 1 unit in the last place; pow: 6 where |y log x| is below 4; sin and
//       cos: beyond 2^24 turns the number is first brought into one turn of 2 pi as a double.
// How   series with the coefficients of Taylor's, on the shortest interval (Muller, "Elementary
//       Functions", 3rd ed., chapters 3 and 11: Cody and Waite's reduction in parts); only + - * / in
//       the order written, never contracted (-ffp-contract=off).
// Cost  5 to 10 ns.
#pragma once

namespace airlatch::elementary {

inline double square(double x) { return x * x; }
double exp(double x);
double log(double x);
// x above 0.
double pow(double x, double y);
double sin(double x);
double cos(double x);

}  // namespace airlatch::elementary
