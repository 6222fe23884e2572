// test_report.hpp: a whole job judged: captures decoded, steps, verdict, and their pictures.
#pragma once
#include <string>
#include <vector>

#include "airlatch/v1/report.pb.h"
#include "plugin/report/plot.hpp"
#include "plugin/sources/source.hpp"

namespace airlatch {

struct TestReport {
  v1::Report report;
  std::vector<CapturePlot> plots;            // one a capture, in the report's order
  std::vector<v1::Finding> before_findings;  // where the job has captures before and after a repair
  std::vector<std::string> damages;          // captures that end early
};

// Decodes the job's captures. Relative names are looked up in `folder`. Throws InputError.
TestReport make_report(const v1::Job& job, const std::string& folder, const v1::Rig& rig,
                       const v1::Plan& plan, const OpenOptions& options);

// The report as report.pb, report.json, report.html and report.pdf in `folder`, which is made where
// it is missing; each file is there whole or not at all. Throws InputError.
void write_report(const TestReport& report, const std::string& folder);

std::string report_html(const TestReport& report);
std::string report_pdf(const TestReport& report);

}  // namespace airlatch
