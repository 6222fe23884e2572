#include "plugin/session/runs.hpp"

#include <algorithm>

namespace airlatch {

std::vector<const v1::Event*> by_time(const std::vector<v1::Event>& events) {
  std::vector<const v1::Event*> out;
  out.reserve(events.size());
  for (const v1::Event& event : events) out.push_back(&event);
  std::stable_sort(out.begin(), out.end(), [](const v1::Event* a, const v1::Event* b) {
    return a->time_s() < b->time_s();
  });
  return out;
}

void add_events(v1::Report& report, const std::vector<v1::Event>& in_order) {
  v1::Run run;
  for (const v1::Event& event : in_order) {
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
  }
  if (run.has_start()) *report.add_runs() = run;
}

}  // namespace airlatch
