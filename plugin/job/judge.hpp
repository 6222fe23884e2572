// SPDX-License-Identifier: GPL-3.0-or-later
// judge.hpp: a vehicle's captures decoded and judged: steps, verdict, branches, what has changed.
//
// In    a job, the rig and plan it is judged by.
// Out   the report's message, and what drawing and printing need beside it.
// How   captures are decoded side by side, as many as there are processors, and judged in the job's
//       order; those after a repair count, those before it are what they are compared with. Limits
//       are limits_of(plan), for all of it.
#pragma once
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "plugin/job/decode_capture.hpp"
#include "plugin/message/report.hpp"
#include "plugin/session/event_store.hpp"
#include "plugin/sources/source.hpp"

namespace airlatch {

struct JudgedJob {
  Report report;
  std::vector<CaptureFacts> facts;  // one a capture, in the report's order; none where it was read
  std::vector<EventStore> events;   // likewise
  std::vector<std::optional<double>> air_c;  // likewise: mean temperature near the line
  std::vector<std::string> damages;          // captures that end early
};

// Called while captures are decoded; each may be empty.
struct JobListener {
  std::function<void(const Event&)> on_event = {};  // as events become decidable
  std::function<void(double)> on_progress = {};  // share of the present capture, below 0: unknown
  // Looks at the samples of the job's k-th capture, perhaps in a thread of its own.
  std::function<CaptureListener(std::size_t k)> samples_of = {};
  bool to_be_written = true;  // false: no events, runs and no SHA-256 in the report
};

// Where a file is that a job names: relative names are looked up in the job's own folder.
std::string found_in(const std::string& folder, const std::string& name);

// Relative names are looked up in `folder`. Throws InputError.
JudgedJob judge_job(const Job& job, const std::string& folder, const Rig& rig, const Plan& plan,
                    const OpenOptions& options, const JobListener& listener = {});

// Two states of one car as one: findings and steps of the second, changes between them.
JudgedJob compare_jobs(JudgedJob before, JudgedJob after);

}  // namespace airlatch
