// SPDX-License-Identifier: GPL-3.0-or-later
// Crossings of drawn courses: straight lines between points a millisecond apart.
#include "plugin/rehearse/course.hpp"

#include <gtest/gtest.h>

namespace airlatch {
namespace {

Course currents(const std::vector<double>& values_a) {
  Course course;
  for (const double value_a : values_a)
    course.push_back({.t_s = 0.001 * static_cast<double>(course.size()), .i_a = value_a});
  return course;
}

TEST(Course, RiseIsLinearBetweenTwoPoints) {
  const auto rise = rise_through(currents({0, 0, 4, 4}), 0, current_of, 1);
  ASSERT_TRUE(rise);
  EXPECT_EQ(rise->at, 2U);
  EXPECT_NEAR(rise->time_s, 0.00125, 1e-12);
}

TEST(Course, RiseIsTheFirstAtOrAfterWhereItIsLookedFor) {
  const Course course = currents({0, 2, 0, 2, 0});
  EXPECT_EQ(rise_through(course, 1, current_of, 1)->at, 1U);
  EXPECT_EQ(rise_through(course, 2, current_of, 1)->at, 3U);
  EXPECT_FALSE(rise_through(course, 4, current_of, 1));
  EXPECT_FALSE(rise_through(course, 0, current_of, 2.5));
}

TEST(Course, IndexIsThePointAtOrAfter) {
  const Course course = currents({0, 0, 0});
  EXPECT_EQ(index_at(course, -1), 0U);
  EXPECT_EQ(index_at(course, 0.0005), 1U);
  EXPECT_EQ(index_at(course, 0.001), 1U);
  EXPECT_EQ(index_at(course, 9), 2U);
}

// 4 A, then from 4 A to nothing in a straight line: half is reached in its middle.
TEST(Course, FallIsTakenAtHalfOfWhatRanBefore) {
  std::vector<double> values_a(100, 4.0);
  values_a.push_back(0);
  values_a.resize(200, 0.0);
  const auto fall = fall_to_nothing(currents(values_a), 0);
  ASSERT_TRUE(fall);
  EXPECT_EQ(fall->half.at, 100U);
  EXPECT_NEAR(fall->half_a, 2, 1e-12);
  EXPECT_NEAR(fall->half.time_s, 0.0995, 1e-12);
}

// 4, 3, 1, 0 A: half lies between the 3 A and the 1 A.
TEST(Course, FallMayTakeSeveralPoints) {
  std::vector<double> values_a(100, 4.0);
  values_a.insert(values_a.end(), {3, 1, 0, 0});
  const auto fall = fall_to_nothing(currents(values_a), 0);
  ASSERT_TRUE(fall);
  EXPECT_EQ(fall->half.at, 102U);
  // The collapse's 1.5 ms are left out of the mean, the 3 A are in it: (49 * 4 + 3) / 50 / 2.
  EXPECT_NEAR(fall->half_a, 1.99, 1e-12);
  EXPECT_NEAR(fall->half.time_s, 0.1 + 0.001 * (3 - fall->half_a) / 2, 1e-12);
}

// The current had fallen from 9 A to 4 A 60 ms before: what ran earlier does not count.
TEST(Course, OnlyTheLastFiftyMillisecondsSayWhatRan) {
  std::vector<double> values_a(100, 9.0);
  values_a.resize(160, 4.0);
  values_a.push_back(0);
  EXPECT_NEAR(fall_to_nothing(currents(values_a), 0)->half_a, 2, 1e-12);
}

TEST(Course, NoFallWhereTheCurrentStays) {
  EXPECT_FALSE(fall_to_nothing(currents(std::vector<double>(100, 4.0)), 0));
  EXPECT_FALSE(fall_to_nothing(currents({4, 0, 0}), 2));
}

}  // namespace
}  // namespace airlatch
