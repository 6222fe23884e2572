#include "plugin/session/steps.hpp"

#include <algorithm>

#include "decoders/context.hpp"

namespace airlatch {
namespace {

v1::Report::LimitResult judge_limit(const v1::Plan::Limit& limit, const v1::Event& event) {
  v1::Report::LimitResult result;
  *result.mutable_limit() = limit;
  const v1::Measure* m = find_measure(event, limit.measure());
  if (!m) {
    result.set_verdict(v1::Report::NOT_MEASURABLE);
    const std::string key = limit.measure() + ": ";
    const std::size_t at = event.note().find(key);
    const std::size_t from = at == std::string::npos ? at : at + key.size();
    result.set_note(at == std::string::npos
                        ? "not among this capture's measures"
                        : event.note().substr(from, event.note().find("; ", from) - from));
    return result;
  }
  *result.mutable_value() = *m;
  // Room to the nearer limit, in the good direction.
  double room = 1e300;
  if (limit.has_max()) room = std::min(room, limit.max() - m->value());
  if (limit.has_min()) room = std::min(room, m->value() - limit.min());
  result.set_verdict(room >= 2 * m->u() ? v1::Report::PASS : v1::Report::FAIL);
  if (room > -2 * m->u() && room < 2 * m->u())
    result.set_note("too close to call: the limit lies within the uncertainty");
  return result;
}

}  // namespace

std::vector<v1::Report::StepResult> judge_steps(const v1::Plan& plan,
                                                const std::vector<v1::Event>& events) {
  std::vector<v1::Report::StepResult> out;
  std::vector<bool> taken(events.size(), false);
  for (const v1::Plan::Step& step : plan.step()) {
    v1::Report::StepResult result;
    result.set_id(step.id());
    const v1::Event* seen = nullptr;
    for (std::size_t k = 0; k < events.size() && !seen; ++k) {
      const bool fits = events[k].kind() == step.expect() &&
                        (step.direction() == v1::UNKNOWN || events[k].direction() == v1::UNKNOWN ||
                         events[k].direction() == step.direction());
      if (taken[k] || !fits) continue;
      taken[k] = true;
      seen = &events[k];
    }
    if (!seen) {
      result.set_outcome(v1::Report::NOT_DONE);
      result.set_note("no " + v1::Kind_Name(step.expect()) + " of this direction was seen");
      out.push_back(result);
      continue;
    }
    result.set_outcome(v1::Report::PASS);
    for (const v1::Plan::Limit& limit : step.limit()) {
      v1::Report::LimitResult judged = judge_limit(limit, *seen);
      if (judged.verdict() == v1::Report::FAIL) result.set_outcome(v1::Report::FAIL);
      if (judged.verdict() == v1::Report::NOT_MEASURABLE && result.outcome() == v1::Report::PASS)
        result.set_outcome(v1::Report::NOT_MEASURABLE);
      if (!judged.note().empty() && judged.verdict() == v1::Report::FAIL)
        result.set_note(judged.note());
      *result.add_limits() = std::move(judged);
    }
    out.push_back(result);
  }
  return out;
}

}  // namespace airlatch
