// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/message/plans.hpp"

#include "plugin/message/setup_file.hpp"
#include "plugin/message/text_format.hpp"

namespace airlatch {

const std::vector<BuiltInPlan>& built_in_plans() {
  static const std::vector<BuiltInPlan> plans = {
      {"bench-pump", "the pump alone, its port closed by a thumb or a plug",
       R"(name: "bench-pump: pump alone, port closed"
step { id: "pressure" title: "Blow against the closed port"
       prompt: "Fused lead, clips apart. Feed contact A, keep the port closed until the pump stops."
       expect: STALL_CUTOFF direction: PRESSURE
       limit { measure: "run_time" max: 4 } limit { measure: "end_pressure" min: 35 }
       limit { measure: "feed_path_resistance" max: 0.25 } limit { measure: "return_path_resistance" max: 0.25 } }
step { id: "pressure_hold" title: "Hold what was blown"
       prompt: "Keep the port closed for twenty seconds."
       expect: LEAK_DECAY direction: PRESSURE limit { measure: "leak_share" max: 0.005 } limit { measure: "decay_rate" max: 2 } }
step { id: "vacuum" title: "Suck against the closed port"
       prompt: "Take contact A off, feed contact B, keep the port closed until the pump stops."
       expect: STALL_CUTOFF direction: VACUUM
       limit { measure: "run_time" max: 6 } limit { measure: "end_pressure" max: -35 }
       limit { measure: "feed_path_resistance" max: 0.25 } }
step { id: "vacuum_hold" title: "Hold what was sucked"
       prompt: "Keep the port closed for twenty seconds."
       expect: LEAK_DECAY direction: VACUUM limit { measure: "leak_share" max: 0.005 } limit { measure: "decay_rate" max: 2 } }
)"},
      {"bench-actuator", "one actuator on a sound pump",
       R"(name: "bench-actuator: one actuator on a sound pump"
step { id: "push" title: "Push the actuator" prompt: "Fingers clear. Feed contact A until the pump stops."
       expect: STALL_CUTOFF direction: PRESSURE limit { measure: "run_time" max: 6 } }
step { id: "push_hold" title: "Hold it pushed" prompt: "Leave it for twenty seconds."
       expect: LEAK_DECAY direction: PRESSURE limit { measure: "leak_share" max: 0.005 } limit { measure: "decay_rate" max: 2 } }
step { id: "pull" title: "Pull the actuator" prompt: "Feed contact B until the pump stops."
       expect: STALL_CUTOFF direction: VACUUM limit { measure: "run_time" max: 8 } }
step { id: "pull_hold" title: "Hold it pulled" prompt: "Leave it for twenty seconds."
       expect: LEAK_DECAY direction: VACUUM limit { measure: "leak_share" max: 0.005 } limit { measure: "decay_rate" max: 2 } }
)"},
      {"branch-isolation", "the whole line, then again with each branch closed in turn",
       R"(name: "branch-isolation: whole line, then one branch closed at a time"
step { id: "whole_line" title: "The line with this branch closed, or none"
       prompt: "Close one branch, or none. Feed contact A until the pump stops, then leave it for a minute."
       expect: LEAK_DECAY direction: PRESSURE limit { measure: "leak_share" max: 0.005 } limit { measure: "decay_rate" max: 2 } }
)"},
      {"in-car", "the pump on the car's own line",
       R"(name: "in-car: the pump on the car's own line"
step { id: "unlock" title: "Blow: unlock" prompt: "Window open, key outside. Feed contact A until the pump stops."
       expect: STALL_CUTOFF direction: PRESSURE limit { measure: "run_time" max: 8 } limit { measure: "rise_rate" max: 150 }
       limit { measure: "feed_path_resistance" max: 0.25 } limit { measure: "return_path_resistance" max: 0.25 } }
step { id: "unlock_hold" title: "Hold" prompt: "Leave it for twenty seconds."
       expect: LEAK_DECAY direction: PRESSURE limit { measure: "leak_share" max: 0.005 } limit { measure: "decay_rate" max: 4 } }
step { id: "lock" title: "Suck: lock" prompt: "Feed contact B until the pump stops."
       expect: STALL_CUTOFF direction: VACUUM limit { measure: "run_time" max: 10 } limit { measure: "rise_rate" max: 150 } }
step { id: "lock_hold" title: "Hold" prompt: "Leave it for twenty seconds."
       expect: LEAK_DECAY direction: VACUUM limit { measure: "leak_share" max: 0.005 } limit { measure: "decay_rate" max: 4 } }
)"},
      {"find-contacts", "which of three unknown contacts is ground, which blows, which sucks",
       R"(name: "find-contacts: clips moved among three unknown contacts"
step { id: "find_contacts" title: "Move the clips among the three contacts"
       prompt: "feed_a_v, feed_b_v and return_v on the three contacts. Fused lead, clips apart, port closed. Feed one contact against another until the pump stops, or for three seconds; go through the pairs."
       expect: MOTOR_START }
)"},
      {"command-pump", "a later pump: constant supply and a command line",
       R"(name: "command-pump: constant supply, a command line asks for the direction"
step { id: "unlock" title: "Ask for unlock" prompt: "Window open, key outside. Ask for unlock and wait."
       expect: STALL_CUTOFF direction: PRESSURE limit { measure: "run_time" max: 8 } limit { measure: "rise_rate" max: 150 } }
step { id: "unlock_hold" title: "Hold" prompt: "Leave it for twenty seconds."
       expect: LEAK_DECAY direction: PRESSURE limit { measure: "leak_share" max: 0.005 } limit { measure: "decay_rate" max: 4 } }
step { id: "lock" title: "Ask for lock" prompt: "Ask for lock and wait."
       expect: STALL_CUTOFF direction: VACUUM limit { measure: "run_time" max: 10 } limit { measure: "rise_rate" max: 150 } }
step { id: "lock_hold" title: "Hold" prompt: "Leave it for twenty seconds."
       expect: LEAK_DECAY direction: VACUUM limit { measure: "leak_share" max: 0.005 } limit { measure: "decay_rate" max: 4 } }
)"}};
  return plans;
}

Plan find_plan(const std::string& name_or_file) {
  for (const BuiltInPlan& plan : built_in_plans())
    if (name_or_file == plan.name) return parse_text<Plan>(plan.text);
  return read_plan(name_or_file);
}

}  // namespace airlatch
