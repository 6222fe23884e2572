// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/live/guide.hpp"

#include <fmt/format.h>

#include "plugin/session/kinds.hpp"
#include "plugin/session/quantity.hpp"
#include "plugin/session/steps.hpp"

namespace airlatch {

Guide::Guide(const Plan& plan)
    : plan_(plan),
      limits_(limits_of(plan)),
      judged_(static_cast<std::size_t>(std::ssize(plan.step)), false),
      results_(static_cast<std::size_t>(std::ssize(plan.step))) {
  for (int k = 0; k < std::ssize(plan.step); ++k) {
    results_[static_cast<std::size_t>(k)].id = plan.step[k].id;
    results_[static_cast<std::size_t>(k)].outcome = Outcome::NOT_DONE;
  }
}

void Guide::judge(int step, const Event& event) {
  const auto at = static_cast<std::size_t>(step);
  Plan one;
  one.step.push_back(plan_.step[step]);
  results_[at] = judge_steps(one, {event})[0];
  judged_[at] = true;
  const auto outcome = results_[at].outcome;
  std::string text = fmt::format("{}: {}", plan_.step[step].title,
                                 outcome == Outcome::PASS   ? "PASS"
                                 : outcome == Outcome::FAIL ? "FAIL"
                                                            : "not measurable");
  for (const Report::LimitResult& limit : results_[at].limits)
    if (limit.verdict == Outcome::FAIL)
      text += fmt::format(", {} {}{}", limit.limit.measure,
                          format_quantity(limit.value->value, limit.value->u, limit.value->unit),
                          limit.undecided ? " (too close to call: try again)" : "");
  news_.push_back(text);
}

void Guide::on_feed(const Event& event) {
  const Measure* level = find_measure(event, "level");
  if (level && within(limits_.of(event.kind, event.direction, "level"), *level) == Within::kNo)
    news_.push_back("The source is low: " + format_quantity(level->value, level->u, "V"));
}

void Guide::on_stop(const Event& event) {
  rest_since_s_ = event.time_s;
  if (event.kind == Kind::MOTOR_STOP && !done() &&
      plan_.step[static_cast<std::size_t>(step_)].expect == Kind::STALL_CUTOFF)
    news_.emplace_back("The feed went before the pump stopped itself: try again");
}

void Guide::on_event(const Event& event) {
  if (const char* alarm = row_of(event.kind).alarm) news_.emplace_back(alarm);
  if (event.kind == Kind::FEED_ON) on_feed(event);
  if (event.kind == Kind::NO_RESPONSE)
    news_.emplace_back(
        "Nothing ran. A contact that was run to its limit is dead until the other one was: feed "
        "the other contact, then try this one again");
  if (event.kind == Kind::FEED_ON || event.kind == Kind::MOTOR_START) rest_since_s_.reset();
  if (row_of(event.kind).family == Family::kRun) on_stop(event);
  // The event may belong to the present step, or to a hold that was left before it was judged.
  for (int k = 0; k < std::ssize(plan_.step) && k <= step_; ++k) {
    const Plan::Step& step = plan_.step[k];
    if (!fits(step, event.kind, event.direction) || judged_[static_cast<std::size_t>(k)]) continue;
    judge(k, event);
    if (k == step_) ++step_;
    return;
  }
}

void Guide::on_time(double now_s) {
  now_s_ = now_s;
  if (done() || plan_.step[step_].expect != Kind::LEAK_DECAY || !rest_since_s_) return;
  if (now_s_ - *rest_since_s_ < kHold_s) return;
  news_.push_back(plan_.step[step_].title + ": long enough; go on");
  ++step_;
}

std::string Guide::prompt() const {
  if (done()) return {};
  const Plan::Step& step = plan_.step[step_];
  std::string text = fmt::format("{} of {}: {}", step_ + 1, std::ssize(plan_.step), step.prompt);
  if (step.expect == Kind::LEAK_DECAY && rest_since_s_)
    text += fmt::format(" {:.0f} s left.", std::max(0.0, kHold_s - (now_s_ - *rest_since_s_)));
  return text;
}

std::vector<std::string> Guide::news() {
  std::vector<std::string> out;
  out.swap(news_);
  return out;
}

}  // namespace airlatch
