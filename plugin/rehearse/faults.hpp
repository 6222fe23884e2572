// SPDX-License-Identifier: GPL-3.0-or-later
// faults.hpp: what can be rehearsed: one row a fault or condition, with the contract's finding it
// stands for, and what it changes in the rig and in the technician's script.
#pragma once
#include <limits>
#include <string>
#include <vector>

#include "plugin/rehearse/pump_model.hpp"

namespace airlatch {

// What the technician does with one feed: on until the pump cuts off (or `most_s`), kept on for
// `keep_s`, then off; the line is left alone until `rest_s` after the stop, and never longer than
// was asked for.
struct FeedPhase {
  int contact = 0;      // 0 = A, 1 = B
  double most_s = 6;    // feed taken away if it still runs, or never ran, after this
  double keep_s = 1.5;  // feed stays on after the cut-off (a pump that restarts: in all)
  double rest_s = std::numeric_limits<double>::infinity();
};

// Interruptions inside a run, seconds after its start.
struct Interruption {
  int phase = 0;
  double at_s = 0, length_s = 0;
  bool brush = false;  // inside the motor, else in the wiring before the contact
};

struct Script {
  std::vector<FeedPhase> phases = {};
  std::vector<Interruption> interruptions = {};
  double bounce_s = 0;              // length of contact bounce at each FEED_ON
  double jam_at_s = -1;             // the rotor jams this long after the first start
  double gap_at_s = -1, gap_s = 0;  // samples of every channel are lost
  double clip_current_a = 0;        // range of a current probe that is too small; 0: none
  int dead_contact = -1;            // the contact that was run to its limit last
  bool branch_gauge = false;        // a second gauge at a branch's far end
  bool command = false;             // later pump: constant supply, a command line
};

struct Fault {
  const char* name;
  const char* finding;  // the contract's code, or empty for a mere condition
  const char* about;
  void (*apply)(PumpParameters&, Script&);
};

const std::vector<Fault>& faults();
// Throws std::invalid_argument naming the known ones.
const Fault& find_fault(const std::string& name);

}  // namespace airlatch
