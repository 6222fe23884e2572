// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/session/steps.hpp"

#include "plugin/session/limits.hpp"

namespace airlatch {
namespace {

Report::LimitResult judge_limit(const Plan::Limit& limit, const Event& event) {
  Report::LimitResult result;
  result.limit = limit;
  const Measure* m = find_measure(event, limit.measure);
  if (!m) {
    result.verdict = Outcome::NOT_MEASURABLE;
    const Missing* missing = find_missing(event, limit.measure);
    result.note = missing ? missing->text : "not among this capture's measures";
    return result;
  }
  result.value = *m;
  const Within inside = within({limit.min, limit.max}, *m);
  result.verdict = inside == Within::kYes ? Outcome::PASS : Outcome::FAIL;
  result.undecided = inside == Within::kUndecided;
  if (result.undecided) result.note = "too close to call: the limit lies within the uncertainty";
  return result;
}

// The step's outcome from its limits': a failure counts before what could not be measured.
void conclude(Report::StepResult& step) {
  step.outcome = Outcome::PASS;
  for (const Report::LimitResult& limit : step.limits) {
    if (limit.verdict == Outcome::FAIL) step.outcome = Outcome::FAIL;
    if (limit.verdict == Outcome::NOT_MEASURABLE && step.outcome == Outcome::PASS)
      step.outcome = Outcome::NOT_MEASURABLE;
    if (limit.undecided) step.note = limit.note;
  }
}

}  // namespace

std::vector<Report::StepResult> judge_steps(const Plan& plan, const std::vector<Event>& events) {
  std::vector<Report::StepResult> out;
  const std::vector<const Event*> seen = events_of_steps(plan, events);
  for (std::size_t k = 0; k < plan.step.size(); ++k) {
    const Plan::Step& step = plan.step[k];
    Report::StepResult result;
    result.id = step.id;
    if (seen[k]) {
      for (const Plan::Limit& limit : limits_that_hold(step, *seen[k]))
        result.limits.push_back(judge_limit(limit, *seen[k]));
      conclude(result);
    } else {
      result.outcome = Outcome::NOT_DONE;
      result.note = "no " + name_of(step.expect) + " of this direction was seen";
    }
    out.push_back(std::move(result));
  }
  return out;
}

std::vector<const Event*> events_of_steps(const Plan& plan, const std::vector<Event>& events) {
  std::vector<const Event*> out;
  std::vector<bool> taken(events.size(), false);
  for (const Plan::Step& step : plan.step) {
    out.push_back(nullptr);
    for (std::size_t k = 0; k < events.size() && !out.back(); ++k) {
      if (taken[k] || !fits(step, events[k].kind, events[k].direction)) continue;
      taken[k] = true;
      out.back() = &events[k];
    }
  }
  return out;
}

}  // namespace airlatch
