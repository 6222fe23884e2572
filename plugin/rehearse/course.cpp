// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/rehearse/course.hpp"

namespace airlatch {
namespace {

constexpr double kNothing_a = 0.02;
constexpr double kCollapse_s = 0.0015;  // the clamp ends the current within a millisecond
constexpr double kMean_s = 0.05;

double mean_before(const Course& course, std::size_t zero) {
  double sum = 0, n = 0;
  const double end_s = course[zero].t_s - kCollapse_s;
  for (std::size_t k = zero; k-- > 0 && course[k].t_s > end_s - kMean_s;)
    if (course[k].t_s <= end_s) {
      sum += course[k].i_a;
      n += 1;
    }
  return n > 0 ? sum / n : course[zero > 0 ? zero - 1 : 0].i_a;
}

}  // namespace

std::size_t index_at(const Course& course, double t_s) {
  const auto it = std::lower_bound(course.begin(), course.end(), t_s,
                                   [](const CoursePoint& p, double t) { return p.t_s < t; });
  return static_cast<std::size_t>(
      std::min<std::ptrdiff_t>(it - course.begin(), std::ssize(course) - 1));
}

std::optional<Fall> fall_to_nothing(const Course& course, std::size_t from) {
  std::size_t zero = std::max<std::size_t>(from, 1);
  while (zero < course.size() &&
         !(course[zero].i_a <= kNothing_a && course[zero - 1].i_a > kNothing_a))
    ++zero;
  if (zero >= course.size()) return std::nullopt;
  const double half_a = 0.5 * mean_before(course, zero);
  std::size_t k = zero;
  while (k > 1 && course[k - 1].i_a < half_a) --k;
  return Fall{{zero, instant_s(course, k, current_of, half_a)}, half_a};
}

}  // namespace airlatch
