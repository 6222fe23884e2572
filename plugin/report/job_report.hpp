// SPDX-License-Identifier: GPL-3.0-or-later
// job_report.hpp: a judged job with its pictures, and the files that show it.
#pragma once
#include <string>
#include <utility>
#include <vector>

#include "plugin/job/judge.hpp"
#include "plugin/report/plot.hpp"

namespace airlatch {

struct JobReport : JudgedJob {
  std::vector<CapturePlot> plots =
      {};  // one a capture, in the report's order; none where it was read
};

// Judges the job (judge.hpp) and draws its captures beside the decoding. Throws InputError.
JobReport make_report(const Job& job, const std::string& folder, const Rig& rig, const Plan& plan,
                      const OpenOptions& options, const JobListener& listener = {});

// Two states of one car as one report: findings and steps of the second, changes between them.
JobReport compare_reports(JobReport before, JobReport after);

// The first capture of each phase that can be drawn; null where there is none.
std::pair<const CapturePlot*, const CapturePlot*> first_of_each(const JobReport& report);

// The report as report.pb, report.json, report.html and report.pdf in `folder`, which is made where
// it is missing; each file is there whole or not at all. Throws InputError.
void write_report(const JobReport& report, const std::string& folder);

std::string report_html(const JobReport& report);
std::string report_pdf(const JobReport& report);

}  // namespace airlatch
