#include "plugin/report/words.hpp"

#include <gtest/gtest.h>

namespace airlatch {
namespace {

TEST(Words, ALimitHasTheUnitOfItsMeasure) {
  v1::Report::LimitResult limit;
  limit.mutable_limit()->set_measure("run_time");
  limit.mutable_limit()->set_max(4);
  limit.set_verdict(v1::Report::NOT_MEASURABLE);
  EXPECT_EQ(limit_words(limit), "run_time, at most 4: not measurable");
  limit.mutable_value()->set_value(2.134);
  limit.mutable_value()->set_u(0.012);
  limit.mutable_value()->set_unit("s");
  limit.set_verdict(v1::Report::PASS);
  EXPECT_EQ(limit_words(limit), "run_time 2.134 ± 0.012 s, at most 4 s: PASS");
  limit.mutable_value()->set_unit("1");  // a ratio
  EXPECT_TRUE(limit_words(limit).ends_with(", at most 4: PASS"));
}

}  // namespace
}  // namespace airlatch
