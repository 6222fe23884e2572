// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/session/runs.hpp"

namespace airlatch {

void add_events(Report& report, const EventStore& events) {
  RunRecord run;
  events.for_each([&](const Event& event) {
    report.events.push_back(event);
    if (event.kind == Kind::MOTOR_START) {
      if (run.start.has_value()) report.runs.push_back(run);
      run = {};
      run.start = event;
    } else if (event.kind == Kind::STALL_CUTOFF || event.kind == Kind::MOTOR_STOP) {
      run.stop = event;
      report.runs.push_back(run);
      run = {};
    } else if (event.kind == Kind::LEAK_DECAY) {
      report.decays.push_back(event);
    }
  });
  if (run.start.has_value()) report.runs.push_back(run);
}

}  // namespace airlatch
