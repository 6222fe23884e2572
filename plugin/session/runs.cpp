#include "plugin/session/runs.hpp"

namespace airlatch {

void add_events(v1::Report& report, const EventStore& events) {
  v1::Run run;
  events.for_each([&](const v1::Event& event) {
    *report.add_events() = event;
    if (event.kind() == v1::MOTOR_START) {
      if (run.has_start()) *report.add_runs() = run;
      run.Clear();
      *run.mutable_start() = event;
    } else if (event.kind() == v1::STALL_CUTOFF || event.kind() == v1::MOTOR_STOP) {
      *run.mutable_stop() = event;
      *report.add_runs() = run;
      run.Clear();
    } else if (event.kind() == v1::LEAK_DECAY) {
      *report.add_decays() = event;
    }
  });
  if (run.has_start()) *report.add_runs() = run;
}

}  // namespace airlatch
