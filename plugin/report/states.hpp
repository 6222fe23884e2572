// SPDX-License-Identifier: GPL-3.0-or-later
// states.hpp: a job's events by state: before a repair, and now; and which figures tell them apart.
//
// In    a judged job whose captures were decoded here; of one that was read only what it holds.
// Out   key figures: at most kMostFigures measures that have a limit, the most telling first.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "plugin/report/job_report.hpp"
#include "plugin/session/limits.hpp"

namespace airlatch {

struct CaptureEvents {
  std::size_t capture = 0;         // its place in the report
  std::vector<Event> events = {};  // ends of runs, holds and feeds: the first few of each
};

struct States {
  std::vector<CaptureEvents> before = {},
                             now = {};  // the whole line first, then with branches closed
  bool repaired = false;                // there is a state after a repair
};
States states_of(const JobReport& test);

struct KeyFigure {
  std::string measure = {};
  Direction direction = Direction::UNKNOWN;
  Range range = {};
  bool planned = false;  // the plan's limit, not a built-in one
  std::optional<Measure> before = {}, now = {};
};
inline constexpr std::size_t kMostFigures = 4;
std::vector<KeyFigure> key_figures(const States& states, const Plan& plan);

// A hold of each state, of one direction: the one that lost most before.
struct HoldPair {
  std::optional<std::size_t> before = {}, now = {};  // places of their captures in the report
  Event before_hold = {}, now_hold = {};
};
HoldPair telling_hold(const States& states);

}  // namespace airlatch
