// SPDX-License-Identifier: GPL-3.0-or-later
#include <gtest/gtest.h>

#include "plugin/job/judge.hpp"

namespace airlatch {
namespace {

JudgedJob state(double run_time_s, std::optional<double> air_c) {
  JudgedJob job;
  Event stop{.kind = Kind::STALL_CUTOFF, .direction = Direction::PRESSURE};
  add_measure(stop, "run_time", {run_time_s, 0.01}, "s");
  job.report.events.push_back(stop);
  job.report.captures.emplace_back().file = std::to_string(run_time_s);
  job.report.findings.push_back({.code = run_time_s > 3 ? "LINE_LEAK" : "SOUND"});
  job.facts.emplace_back();
  job.events.emplace_back();
  job.air_c.push_back(air_c);
  return job;
}

TEST(CompareJobs, TheEarlierFirstAndTheLaterJudged) {
  const JudgedJob both = compare_jobs(state(4, {}), state(2, {}));
  ASSERT_EQ(both.report.captures.size(), 2U);
  EXPECT_EQ(both.report.captures[0].phase, Phase::BEFORE);
  EXPECT_EQ(both.report.captures[1].phase, Phase::AFTER);
  EXPECT_EQ(both.report.findings[0].code, "SOUND");
  EXPECT_EQ(both.report.before_findings[0].code, "LINE_LEAK");
  ASSERT_EQ(both.report.changes.size(), 1U);
  EXPECT_DOUBLE_EQ(both.report.changes[0].change, -2);
  EXPECT_EQ(both.facts.size(), 2U);
  EXPECT_TRUE(both.report.remarks.empty());
}

TEST(CompareJobs, SaysWhatMakesThemUnlike) {
  JudgedJob other = state(2, 31.0);
  other.report.rig.name = "another";
  other.report.plan.run_limit_s = 9;
  const JudgedJob both = compare_jobs(state(4, 20.0), std::move(other));
  ASSERT_EQ(both.report.remarks.size(), 3U);
  EXPECT_NE(both.report.remarks[2].find("20.0 °C before and 31.0 °C after"), std::string::npos);
  EXPECT_TRUE(compare_jobs(state(4, 20.0), state(2, 24.9)).report.remarks.empty());
}

// A report that was read has no samples: nothing is drawn for either.
TEST(CompareJobs, AReadReportLeavesNothingToDraw) {
  JudgedJob read = state(4, {});
  read.facts.clear();
  read.events.clear();
  read.air_c.clear();
  const JudgedJob both = compare_jobs(std::move(read), state(2, {}));
  EXPECT_EQ(both.report.captures.size(), 2U);
  EXPECT_TRUE(both.facts.empty());
  EXPECT_TRUE(both.events.empty());
}

}  // namespace
}  // namespace airlatch
