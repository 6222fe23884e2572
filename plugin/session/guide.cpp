#include "plugin/session/guide.hpp"

#include <fmt/format.h>

#include "decoders/context.hpp"
#include "plugin/session/quantity.hpp"
#include "plugin/session/steps.hpp"

namespace airlatch {
namespace {
constexpr double kSourceLow_v = 9;  // common practice, no source
}

Guide::Guide(const v1::Plan& plan)
    : plan_(plan),
      judged_(static_cast<std::size_t>(plan.step_size()), false),
      results_(static_cast<std::size_t>(plan.step_size())) {
  for (int k = 0; k < plan.step_size(); ++k) {
    results_[static_cast<std::size_t>(k)].set_id(plan.step(k).id());
    results_[static_cast<std::size_t>(k)].set_outcome(v1::Report::NOT_DONE);
  }
}

void Guide::judge(int step, const v1::Event& event) {
  const auto at = static_cast<std::size_t>(step);
  v1::Plan one;
  *one.add_step() = plan_.step(step);
  results_[at] = judge_steps(one, {event})[0];
  judged_[at] = true;
  const auto outcome = results_[at].outcome();
  std::string text = fmt::format("{}: {}", plan_.step(step).title(),
                                 outcome == v1::Report::PASS   ? "PASS"
                                 : outcome == v1::Report::FAIL ? "FAIL"
                                                               : "not measurable");
  for (const v1::Report::LimitResult& limit : results_[at].limits())
    if (limit.verdict() == v1::Report::FAIL)
      text += fmt::format(
          ", {} {}{}", limit.limit().measure(),
          format_quantity(limit.value().value(), limit.value().u(), limit.value().unit()),
          limit.note().empty() ? "" : " (too close to call: try again)");
  news_.push_back(text);
}

void Guide::on_event(const v1::Event& event) {
  switch (event.kind()) {
    case v1::LOCKED_ROTOR:
      news_.emplace_back("TAKE THE FEED OFF NOW: the motor draws current and does not turn");
      break;
    case v1::RUN_ON:
      news_.emplace_back("TAKE THE FEED OFF NOW: the pump runs and does not stop itself");
      break;
    case v1::NO_RESPONSE:
      news_.emplace_back(
          "Nothing ran. A contact that was run to its limit is dead until the other one was: feed "
          "the "
          "other contact, then try this one again");
      break;
    case v1::FEED_ON:
      if (const v1::Measure* level = find_measure(event, "level");
          level && level->value() + 2 * level->u() < kSourceLow_v)
        news_.push_back("The source is low: " + format_quantity(level->value(), level->u(), "V"));
      rest_since_s_.reset();
      break;
    case v1::MOTOR_START:
      rest_since_s_.reset();
      break;
    case v1::STALL_CUTOFF:
    case v1::MOTOR_STOP:
      rest_since_s_ = event.time_s();
      if (event.kind() == v1::MOTOR_STOP && !done() &&
          plan_.step(step_).expect() == v1::STALL_CUTOFF)
        news_.emplace_back("The feed went before the pump stopped itself: try again");
      break;
    default:
      break;
  }
  // The event may belong to the present step, or to a hold that was left before it was judged.
  for (int k = 0; k < plan_.step_size() && k <= step_; ++k) {
    const v1::Plan::Step& step = plan_.step(k);
    const bool fits = event.kind() == step.expect() &&
                      (step.direction() == v1::UNKNOWN || event.direction() == v1::UNKNOWN ||
                       event.direction() == step.direction());
    if (!fits || judged_[static_cast<std::size_t>(k)]) continue;
    judge(k, event);
    if (k == step_) ++step_;
    return;
  }
}

void Guide::on_time(double now_s) {
  now_s_ = now_s;
  if (done() || plan_.step(step_).expect() != v1::LEAK_DECAY || !rest_since_s_) return;
  if (now_s_ - *rest_since_s_ < kHold_s) return;
  news_.push_back(plan_.step(step_).title() + ": long enough; go on");
  ++step_;
}

std::string Guide::prompt() const {
  if (done()) return {};
  const v1::Plan::Step& step = plan_.step(step_);
  std::string text = fmt::format("{} of {}: {}", step_ + 1, plan_.step_size(), step.prompt());
  if (step.expect() == v1::LEAK_DECAY && rest_since_s_)
    text += fmt::format(" {:.0f} s left.", std::max(0.0, kHold_s - (now_s_ - *rest_since_s_)));
  return text;
}

std::vector<std::string> Guide::news() {
  std::vector<std::string> out;
  out.swap(news_);
  return out;
}

}  // namespace airlatch
