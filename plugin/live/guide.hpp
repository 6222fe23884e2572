// SPDX-License-Identifier: GPL-3.0-or-later
// guide.hpp: leads a user whose hands are busy through a plan: says what to do, detects that it was
// done.
//
// In    events as they become decidable, and the time that has passed.
// Out   the present prompt, what has just been found, and alarms that cannot wait.
// How   a step is done when its event is seen; its limits are judged as a report would. A hold is
//       long enough after kHold_s: the next step is asked for, and the hold is judged when its
//       LEAK_DECAY comes, which is when the line is moved again.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "plugin/message/report.hpp"
#include "plugin/session/limits.hpp"

namespace airlatch {

class Guide {
 public:
  static constexpr double kHold_s = 20;

  explicit Guide(const Plan& plan);
  void on_event(const Event& event);
  void on_time(double now_s);  // seconds of the capture

  // What to do now; empty once the plan is done.
  [[nodiscard]] std::string prompt() const;
  [[nodiscard]] bool done() const { return step_ >= std::ssize(plan_.step); }
  [[nodiscard]] int step() const { return step_; }
  // What is new since the last call: "pressure: PASS", "take the feed off now: ...".
  std::vector<std::string> news();
  [[nodiscard]] const std::vector<Report::StepResult>& results() const { return results_; }

 private:
  void judge(int step, const Event& event);
  void on_feed(const Event& event);
  void on_stop(const Event& event);
  Plan plan_;
  Limits limits_;
  int step_ = 0;
  double now_s_ = 0;
  std::optional<double> rest_since_s_ = {};  // the motor stopped: the line may be left alone
  std::vector<bool> judged_;
  std::vector<Report::StepResult> results_;
  std::vector<std::string> news_;
};

}  // namespace airlatch
