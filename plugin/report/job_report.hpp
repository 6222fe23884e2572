// SPDX-License-Identifier: GPL-3.0-or-later
// job_report.hpp: a judged job with its pictures, and the files that show it.
#pragma once
#include <string>
#include <utility>
#include <vector>

#include "plugin/job/judge.hpp"
#include "plugin/report/document_writers.hpp"
#include "plugin/report/language.hpp"
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

// Whether a report of `job` may go to `folder`: not, unless `force`, where another job's report or
// anything else stands under one of its names. The same job: vehicle and job number are the same; or
// neither has any, and the names of the captures are the same. Throws InputError (kCannotCreate).
void check_report_folder(const std::string& folder, const Job& job, bool force);

// For whom the page is, and on what it is printed.
struct ReportStyle {
  Language language = Language::of_environment();
  Paper paper = paper_of_environment();
};

// The report as report.pb, report.json, report.html and report.pdf in `folder`, which is made where
// it is missing: all of them or, where one cannot be written, nothing new. Throws InputError, as
// check_report_folder does.
void write_report(const JobReport& report, const std::string& folder, bool force = false,
                  const ReportStyle& style = {});

std::string report_html(const JobReport& report, const Language& language = {});
std::string report_pdf(const JobReport& report, const ReportStyle& style = {});

}  // namespace airlatch
