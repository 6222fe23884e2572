// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/words.hpp"

#include <gtest/gtest.h>

namespace airlatch {
namespace {

TEST(Words, ALimitHasTheUnitOfItsMeasure) {
  Report::LimitResult limit;
  limit.limit.measure = "run_time";
  limit.limit.max = 4;
  limit.verdict = Outcome::NOT_MEASURABLE;
  EXPECT_EQ(limit_words(limit), "run_time, at most 4: not measurable");
  limit.value = Measure{.value = 2.134, .u = 0.012, .unit = "s"};
  limit.verdict = Outcome::PASS;
  EXPECT_EQ(limit_words(limit), "run_time 2.134 ± 0.012 s, at most 4 s: PASS");
  limit.value->unit = "1";  // a ratio
  EXPECT_TRUE(limit_words(limit).ends_with(", at most 4: PASS"));
}

}  // namespace
}  // namespace airlatch
