// test_report.hpp: a whole job judged: captures decoded, steps, verdict, and their pictures.
#pragma once
#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "airlatch/v1/report.pb.h"
#include "plugin/report/plot.hpp"
#include "plugin/session/decode_capture.hpp"
#include "plugin/session/event_store.hpp"
#include "plugin/sources/source.hpp"

namespace airlatch {

struct TestReport {
  v1::Report report;
  std::vector<CapturePlot> plots;    // one a capture, in the report's order; none where it was read
  std::vector<CaptureFacts> facts;   // likewise
  std::vector<EventStore> events;    // likewise
  std::vector<std::string> damages;  // captures that end early
};

// Told while captures are decoded; each may be empty.
struct ReportListener {
  std::function<void(const v1::Event&)> on_event;  // as events become decidable
  std::function<void(double)> on_progress;         // share of the present capture, below 0: unknown
  bool to_be_written = true;  // false: no pictures, events, runs and no SHA-256
};

// Decodes the job's captures. Relative names are looked up in `folder`. Throws InputError.
TestReport make_report(const v1::Job& job, const std::string& folder, const v1::Rig& rig,
                       const v1::Plan& plan, const OpenOptions& options,
                       const ReportListener& listener = {});

// Two states of one car as one report: findings and steps of the second, changes between them.
TestReport compare_reports(TestReport before, TestReport after);

// The first capture of each phase that can be drawn; null where there is none.
std::pair<const CapturePlot*, const CapturePlot*> first_of_each(const TestReport& test);

// The report as report.pb, report.json, report.html and report.pdf in `folder`, which is made where
// it is missing; each file is there whole or not at all. Throws InputError.
void write_report(const TestReport& report, const std::string& folder);

std::string report_html(const TestReport& report);
std::string report_pdf(const TestReport& report);

}  // namespace airlatch
