// SPDX-License-Identifier: GPL-3.0-or-later
// Rehearsed jobs over all findings: the true one first, a sound system never condemned, and the
// likelihoods as good as they say. Seeds of their own.
#include <gtest/gtest.h>

#include <cstdio>
#include <map>

#include "plugin/rehearse/faults.hpp"
#include "plugin/verdict/rules.hpp"
#include "tests/support/decode.hpp"
#include "tests/support/sanitized.hpp"
#include "tests/support/score.hpp"

namespace airlatch {
namespace {
using namespace test;

std::vector<Finding> verdict(const Rehearsal& r) {
  return judge(gather_evidence({decode_rehearsal(r)}, limits_of({})));
}

TEST(Verdict, TrueFindingFirst) {
  const std::int64_t rates[] = {1000, 2000, 500, 1000};
  const double noises[] = {1, 3, 1, 0.5};
  int jobs = 0, first = 0, second = 0, sound_condemned = 0, sounds = 0;
  std::map<int, std::pair<int, int>> calibration;  // tenths: right, stated
  for (const Fault& fault : faults()) {
    if (std::string(fault.finding).empty() || std::string(fault.name) == "command-pump") continue;
    for (std::uint64_t k = 0; k < (test::kSanitized ? 2 : 13); ++k) {
      const Rehearsal r = rehearse({.fault = fault.name,
                                    .rate_hz = rates[k % 4],
                                    .seed = 800'000 + k,
                                    .noise = noises[k % 4],
                                    .hold_s = 8});
      const auto findings = verdict(r);
      ++jobs;
      const bool right = findings[0].code == r.finding;
      first += right;
      second += right || (findings.size() > 1 && findings[1].code == r.finding);
      if (r.finding == "SOUND") {
        ++sounds;
        sound_condemned += findings[0].code != "SOUND";
      }
      auto& bin = calibration[std::min(9, static_cast<int>(10 * findings[0].likelihood))];
      bin.first += right;
      ++bin.second;
      if (!right)
        std::printf("%s seed %llu: %s %.2f instead\n", fault.name,
                    static_cast<unsigned long long>(k), findings[0].code.c_str(),
                    findings[0].likelihood);
    }
  }
  std::printf("%d jobs: first %.4f, among the first two %.4f; sound condemned %d of %d\n", jobs,
              static_cast<double>(first) / jobs, static_cast<double>(second) / jobs,
              sound_condemned, sounds);
  for (const auto& [tenth, bin] : calibration)
    std::printf("stated %.1f to %.1f: %d of %d right\n", tenth / 10.0, tenth / 10.0 + 0.1,
                bin.first, bin.second);
  EXPECT_GE(jobs, test::kSanitized ? 30 : 200);
  EXPECT_GE(first, 0.97 * jobs);
  EXPECT_GE(second, 0.995 * jobs);
  EXPECT_EQ(sound_condemned, 0);
}

// The most important rule of the trade: a pump that does nothing on one contact is not condemned.
TEST(Verdict, ADeadContactAloneCondemnsNothing) {
  const auto findings =
      verdict(rehearse({.fault = "not-enough-tested", .rate_hz = 1000, .seed = 3}));
  EXPECT_EQ(findings[0].code, "NOT_ENOUGH_TESTED");
  EXPECT_NE(findings[0].next_step.find("other contact"), std::string::npos);
  for (const Finding& finding : findings)
    if (finding.code != "NOT_ENOUGH_TESTED") {
      EXPECT_LT(finding.likelihood, 0.3);
    }
}

TEST(Verdict, NothingMeasuredNothingFound) {
  const auto findings = judge(gather_evidence({{}}, limits_of({})));
  EXPECT_EQ(findings[0].code, "NOT_ENOUGH_TESTED");
}

TEST(Verdict, EveryFindingSaysWhyAndWhatNext) {
  const auto findings = verdict(rehearse({.fault = "line-leak", .rate_hz = 1000, .seed = 4}));
  EXPECT_EQ(findings[0].code, "LINE_LEAK");
  EXPECT_FALSE(findings[0].evidence.empty());
  EXPECT_NE(findings[0].evidence[0].find("LEAK_DECAY at"), std::string::npos);
  EXPECT_FALSE(findings[0].next_step.empty());
  EXPECT_FALSE(findings[0].cautions.empty());
}

}  // namespace
}  // namespace airlatch
