// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/session/steps.hpp"

#include <gtest/gtest.h>

#include "decoders/context.hpp"
#include "plugin/message/plans.hpp"

namespace airlatch {
namespace {

Event event(Kind kind, Direction direction) {
  Event out;
  out.kind = kind;
  out.direction = direction;
  return out;
}

Plan one_step() {
  Plan plan;
  auto& step = plan.step.emplace_back();
  step.id = "hold";
  step.expect = Kind::LEAK_DECAY;
  step.direction = Direction::PRESSURE;
  auto& limit = step.limit.emplace_back();
  limit.measure = "decay_rate";
  limit.max = 2;
  return plan;
}

Outcome outcome(double rate, double u, std::string* note = nullptr) {
  Event decay = event(Kind::LEAK_DECAY, Direction::PRESSURE);
  add_measure(decay, "decay_rate", {rate, u}, "kPa/min");
  const auto steps = judge_steps(one_step(), {decay});
  if (note) *note = steps.at(0).note;
  return steps.at(0).outcome;
}

TEST(Steps, LimitsAreJudgedWithTheirUncertainty) {
  EXPECT_EQ(outcome(1.0, 0.1), Outcome::PASS);
  EXPECT_EQ(outcome(3.0, 0.1), Outcome::FAIL);
  std::string note;
  EXPECT_EQ(outcome(1.9, 0.1, &note), Outcome::FAIL);  // no pass on a limit within 2 u
  EXPECT_NE(note.find("too close to call"), std::string::npos);
}

TEST(Steps, NotSeenAndNotMeasurable) {
  EXPECT_EQ(judge_steps(one_step(), {}).at(0).outcome, Outcome::NOT_DONE);
  EXPECT_EQ(judge_steps(one_step(), {event(Kind::LEAK_DECAY, Direction::VACUUM)}).at(0).outcome,
            Outcome::NOT_DONE);
  Event blind = event(Kind::LEAK_DECAY, Direction::PRESSURE);
  add_missing(blind, "slope", MissingCode::DISTURBED, "x");
  add_missing(blind, "decay_rate", MissingCode::NO_CHANNEL, "no pressure channel");
  const auto step = judge_steps(one_step(), {blind}).at(0);
  EXPECT_EQ(step.outcome, Outcome::NOT_MEASURABLE);
  EXPECT_EQ(step.limits[0].note, "no pressure channel");
}

TEST(Steps, EveryBuiltInPlanCanBeRead) {
  for (const BuiltInPlan& plan : built_in_plans()) {
    const Plan parsed = find_plan(plan.name);
    EXPECT_GT(std::ssize(parsed.step), 0) << plan.name;
    for (const auto& step : parsed.step) {
      EXPECT_FALSE(step.prompt.empty());
      if (step.id != "find_contacts") {  // finds out, and judges nothing
        EXPECT_GT(std::ssize(step.limit), 0) << step.id;
      }
    }
  }
}

}  // namespace
}  // namespace airlatch
