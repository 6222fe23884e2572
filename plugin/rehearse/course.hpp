// SPDX-License-Identifier: GPL-3.0-or-later
// course.hpp: the noise-free course of one movement of the motor, and where it crosses a level.
//
// In    points in the order of time, a quantity of them (`get`), a level.
// Out   crossings: the first point at or beyond the level, and the instant, linear between that
//       point and the one before it (IEEE Std 181).
#pragma once
#include <algorithm>
#include <array>
#include <cstddef>
#include <optional>
#include <vector>

namespace airlatch {

struct CoursePoint {
  double t_s = 0, i_a = 0, supply_v = 0, feed_v = 0, return_v = 0, line_kpa = 0, w_rad_s = 0;
  double isothermal_kpa = 0;            // line_kpa without the warmth
  std::array<double, 2> excess_k = {};  // the two warmths
};
using Course = std::vector<CoursePoint>;

// From the first current or turning to rest; courses begin with a point of rest.
struct Movement {
  Course course;
  int contact = 0;         // 0 = A, 1 = B
  bool by_feed = false;    // it ended because the feed was taken away
  double feed_on_s = 0;    // when that feed began
  bool restarted = false;  // the motor had cut off already under the same feed
};

struct Crossing {
  std::size_t at = 0;
  double time_s = 0;
};

inline double current_of(const CoursePoint& point) { return point.i_a; }

// Instant at which `get` passes `level` between the points k - 1 and k.
template <class Get>
double instant_s(const Course& course, std::size_t k, Get get, double level) {
  const double a = get(course[k - 1]), b = get(course[k]);
  const double part = b == a ? 1 : (level - a) / (b - a);
  return course[k - 1].t_s + part * (course[k].t_s - course[k - 1].t_s);
}

// The first rise of `get` through `level` that ends at or after course[from].
template <class Get>
std::optional<Crossing> rise_through(const Course& course, std::size_t from, Get get,
                                     double level) {
  for (std::size_t k = std::max<std::size_t>(from, 1); k < course.size(); ++k)
    if (get(course[k]) >= level && get(course[k - 1]) < level)
      return Crossing{k, instant_s(course, k, get, level)};
  return std::nullopt;
}

// The first point at or after t_s, or the last one.
std::size_t index_at(const Course& course, double t_s);

// The next fall of the current to nothing that ends at or after course[from], taken where it falls
// through half of what ran before: the mean of the last 50 ms before its collapse.
struct Fall {
  Crossing half;  // `at`: where it has reached nothing
  double half_a = 0;
};
std::optional<Fall> fall_to_nothing(const Course& course, std::size_t from);

}  // namespace airlatch
