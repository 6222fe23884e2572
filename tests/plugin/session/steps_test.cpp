#include "plugin/session/steps.hpp"

#include <gtest/gtest.h>

#include "decoders/context.hpp"
#include "plugin/session/plans.hpp"

namespace airlatch {
namespace {

v1::Event event(v1::Kind kind, v1::Direction direction) {
  v1::Event out;
  out.set_kind(kind);
  out.set_direction(direction);
  return out;
}

v1::Plan one_step() {
  v1::Plan plan;
  auto& step = *plan.add_step();
  step.set_id("hold");
  step.set_expect(v1::LEAK_DECAY);
  step.set_direction(v1::PRESSURE);
  auto& limit = *step.add_limit();
  limit.set_measure("decay_rate");
  limit.set_max(2);
  return plan;
}

v1::Report::Outcome outcome(double rate, double u, std::string* note = nullptr) {
  v1::Event decay = event(v1::LEAK_DECAY, v1::PRESSURE);
  add_measure(decay, "decay_rate", {rate, u}, "kPa/min");
  const auto steps = judge_steps(one_step(), {decay});
  if (note) *note = steps.at(0).note();
  return steps.at(0).outcome();
}

TEST(Steps, LimitsAreJudgedWithTheirUncertainty) {
  EXPECT_EQ(outcome(1.0, 0.1), v1::Report::PASS);
  EXPECT_EQ(outcome(3.0, 0.1), v1::Report::FAIL);
  std::string note;
  EXPECT_EQ(outcome(1.9, 0.1, &note), v1::Report::FAIL);  // no pass on a limit within 2 u
  EXPECT_NE(note.find("too close to call"), std::string::npos);
}

TEST(Steps, NotSeenAndNotMeasurable) {
  EXPECT_EQ(judge_steps(one_step(), {}).at(0).outcome(), v1::Report::NOT_DONE);
  EXPECT_EQ(judge_steps(one_step(), {event(v1::LEAK_DECAY, v1::VACUUM)}).at(0).outcome(),
            v1::Report::NOT_DONE);
  v1::Event blind = event(v1::LEAK_DECAY, v1::PRESSURE);
  blind.set_note("slope: x; decay_rate: no pressure channel");
  const auto step = judge_steps(one_step(), {blind}).at(0);
  EXPECT_EQ(step.outcome(), v1::Report::NOT_MEASURABLE);
  EXPECT_EQ(step.limits(0).note(), "no pressure channel");
}

TEST(Steps, EveryBuiltInPlanCanBeRead) {
  for (const BuiltInPlan& plan : built_in_plans()) {
    const v1::Plan parsed = find_plan(plan.name);
    EXPECT_GT(parsed.step_size(), 0) << plan.name;
    for (const auto& step : parsed.step()) {
      EXPECT_FALSE(step.prompt().empty());
      if (step.id() != "find_contacts") {  // finds out, and judges nothing
        EXPECT_GT(step.limit_size(), 0) << step.id();
      }
    }
  }
}

}  // namespace
}  // namespace airlatch
