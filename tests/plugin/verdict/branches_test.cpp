// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/verdict/branches.hpp"

#include <gtest/gtest.h>

#include <cstdio>
#include <random>

#include "decoders/context.hpp"

namespace airlatch {
namespace {

const std::vector<std::string> kBranches = {"left front", "right front", "left rear", "right rear",
                                            "tailgate"};

// A hold of a line whose parts lose `g` (1/s at unchanged volume), with the given relative volume.
Hold hold(const std::vector<std::string>& closed, double rate_per_s, double u, double start_kpa,
          std::optional<double> volume_m3 = {}) {
  Hold h{closed, {}};
  h.decay.kind = Kind::LEAK_DECAY;
  h.decay.direction = start_kpa < 0 ? Direction::VACUUM : Direction::PRESSURE;
  add_measure(h.decay, "start_pressure", {start_kpa, 0.01}, "kPa");
  add_measure(h.decay, "slope", {-rate_per_s * start_kpa, u * std::abs(start_kpa)}, "kPa/s");
  if (volume_m3)
    add_measure(h.decay, "leak_rate",
                {rate_per_s * std::abs(start_kpa) * 1000 * *volume_m3,
                 u * std::abs(start_kpa) * 1000 * *volume_m3},
                "Pa·m³/s");
  return h;
}

// JCGM 100 E.3: independent errors add in quadrature, here for the difference of two holds.
TEST(LeakBudget, OneBranchIsTheDifferenceOfTwoHolds) {
  const auto budgets = leak_budgets(
      {hold({}, 0.010, 3e-4, 40, 250e-6), hold({"left rear"}, 0.003, 4e-4, 40, 250e-6)},
      limits_of({}));
  ASSERT_EQ(budgets.size(), 1U);
  const auto& budget = budgets[0];
  EXPECT_EQ(budget.leaking, "left rear");
  EXPECT_NEAR(budget.branches[0].loss.value, 0.007 * 40 * 60, 1e-9);
  EXPECT_NEAR(budget.branches[0].loss.u, 5e-4 * 40 * 60, 1e-9);
  EXPECT_NEAR(budget.rest->value, 0.003 * 40 * 60, 1e-9);
  EXPECT_NEAR(budget.whole->value, 24, 1e-9);
}

// A closed branch takes its volume with it: the same leak shows as a faster fall.
TEST(LeakBudget, VolumesAreTakenOut) {
  const double leak_m3_s = 1e-6;
  const auto budgets = leak_budgets({hold({}, leak_m3_s / 250e-6, 1e-5, 40, 250e-6),
                                     hold({"tailgate"}, leak_m3_s / 150e-6, 1e-5, 40, 150e-6)},
                                    limits_of({}));
  ASSERT_EQ(budgets.size(), 1U);
  EXPECT_EQ(budgets[0].leaking, "");
  EXPECT_NEAR(budgets[0].branches[0].loss.value, 0, 1e-9);
}

// The share of the pump's delivery holds the volume itself: nobody has to know it.
TEST(LeakBudget, TheShareOfTheDeliveryKnowsTheVolume) {
  const auto with_share = [](Hold one, double share) {
    add_measure(one.decay, "leak_share", {share, 0.02 * share}, "1");
    return one;
  };
  // One leak in the trunk; a closed branch takes four tenths of the volume with it.
  const auto budgets = leak_budgets({with_share(hold({}, 0.01, 1e-5, 40), 0.02),
                                     with_share(hold({"tailgate"}, 0.01 / 0.6, 1e-5, 40), 0.02)},
                                    limits_of({}));
  EXPECT_EQ(budgets.at(0).leaking, "");
  EXPECT_NEAR(budgets[0].branches[0].loss.value, 0, 1e-9);
  EXPECT_NEAR(budgets[0].rest->value, 24, 1e-9);
}

// Without it the volume counts in the uncertainty: the true share, here none, is within it.
TEST(LeakBudget, AnUnknownVolumeIsInTheUncertainty) {
  for (const double gone : {0.0, 0.1, 0.2, 0.33}) {
    const auto budgets = leak_budgets(
        {hold({}, 0.01, 1e-5, 40), hold({"tailgate"}, 0.01 / (1 - gone), 1e-5, 40)}, limits_of({}));
    const Measure& loss = budgets.at(0).branches[0].loss;
    EXPECT_LT(std::abs(loss.value), 2 * loss.u) << gone;
    EXPECT_EQ(budgets[0].leaking, "");
  }
}

// A branch that leaks beside something that leaks more: it is not the culprit.
TEST(LeakBudget, SaysFirstWhereMostOfTheLossIs) {
  const auto budgets = leak_budgets(
      {hold({}, 0.030, 1e-4, 40, 250e-6), hold({"right front"}, 0.024, 1e-4, 40, 250e-6),
       hold({"tailgate"}, 0.030, 1e-4, 40, 250e-6)},
      limits_of({}));
  EXPECT_EQ(budgets.at(0).leaking, "");
  EXPECT_EQ(budgets[0].conclusion.find("Most of the loss"), 0U);
  EXPECT_NE(budgets[0].conclusion.find("right front"), std::string::npos);
}

TEST(LeakBudget, CapturesThatDoNotBelongTogetherAreCalledThat) {
  const auto budgets =
      leak_budgets({hold({}, 0.01, 1e-4, 40, 250e-6), hold({"tailgate"}, 0.02, 1e-4, 40, 250e-6)},
                   limits_of({}));
  EXPECT_NE(budgets.at(0).conclusion.find("do not belong together"), std::string::npos);
}

TEST(LeakBudget, SaysWhatIsMissing) {
  EXPECT_TRUE(leak_budgets({hold({}, 0.01, 1e-4, 40)}, limits_of({})).empty());
  const auto no_whole = leak_budgets({hold({"tailgate"}, 0.01, 1e-4, 40)}, limits_of({}));
  ASSERT_EQ(no_whole.size(), 1U);
  EXPECT_NE(no_whole[0].conclusion.find("whole line"), std::string::npos);
  const auto together =
      leak_budgets({hold({}, 0.01, 1e-4, 40), hold({"a", "b"}, 0.001, 1e-4, 40)}, limits_of({}));
  EXPECT_NE(together[0].conclusion.find("close each of them alone"), std::string::npos);
  EXPECT_TRUE(together[0].leaking.empty());
}

// Five branches, one of them leaks, all rates with white errors; both directions.
TEST(LeakBudget, NamesTheRightBranchOrNone) {
  std::mt19937_64 random(20'000'001);
  std::normal_distribution<double> noise;
  std::uniform_int_distribution<std::size_t> pick(0, kBranches.size() - 1);
  int named = 0, right = 0, clear = 0, clear_right = 0, tight_named = 0, tight = 0;
  for (int trial = 0; trial < 4000; ++trial) {
    const double u = 2e-4;
    const std::size_t bad = pick(random);
    const double leak = u * std::array{0.0, 1.0, 3.0, 6.0, 12.0, 40.0}[trial % 6];
    const double rest = 3e-4, start = trial % 2 ? 40 : -45;
    std::vector<Hold> holds = {hold({}, rest + leak + u * noise(random), u, start, 250e-6)};
    for (std::size_t k = 0; k < kBranches.size(); ++k)
      holds.push_back(
          hold({kBranches[k]}, rest + (k == bad ? 0 : leak) + u * noise(random), u, start, 250e-6));
    const auto budgets = leak_budgets(holds, limits_of({}));
    ASSERT_EQ(budgets.size(), 1U);
    const bool says = !budgets[0].leaking.empty(), is = budgets[0].leaking == kBranches[bad];
    named += says && leak > 0;
    right += is && leak > 0;
    tight += leak == 0;
    tight_named += says && leak == 0;
    if (leak > 8 * u) {  // far beyond twice the combined uncertainty, which is 1.4 u
      ++clear;
      clear_right += is;
    }
  }
  std::printf("named %d, right %d; clear leaks %d of %d; tight lines accused %d of %d\n", named,
              right, clear_right, clear, tight_named, tight);
  EXPECT_GE(right, 0.99 * named);
  EXPECT_GE(clear_right, 0.99 * clear);
  EXPECT_LE(tight_named, 0.02 * tight);
}

}  // namespace
}  // namespace airlatch
