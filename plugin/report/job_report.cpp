// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/job_report.hpp"

#include <filesystem>
#include <iterator>

#include "decoders/stream/rig_scale.hpp"
#include "plugin/message/wire.hpp"
#include "plugin/report/report_file.hpp"
#include "plugin/system/input_error.hpp"
#include "plugin/system/whole_file.hpp"

namespace airlatch {
namespace {
namespace fs = std::filesystem;

// Scaled envelopes of a capture's channels, beside the decoding.
class Drawer {
 public:
  explicit Drawer(CapturePlot& plot) : plot_(plot) {}
  void begin(const RigMatch& match) {
    for (const ChainChannel& channel : match.channels) {
      scales_.emplace_back(channel.rig);
      plot_.channels.push_back({channel.rig.source, channel.rig.role, {}});
    }
  }
  void take(const SampleBlock& raw) {
    if (!started_) t0_ns_ = raw.time_ns(0);
    started_ = true;
    plot_.channels[raw.channel].envelope.add(scales_[raw.channel].apply(raw, t0_ns_), t0_ns_);
  }

 private:
  CapturePlot& plot_;
  std::vector<RigScale> scales_;
  std::int64_t t0_ns_ = 0;
  bool started_ = false;
};

}  // namespace

JobReport make_report(const Job& job, const std::string& folder, const Rig& rig, const Plan& plan,
                      const OpenOptions& options, const JobListener& listener) {
  JobReport out;
  out.plots.resize(job.capture.size());
  std::vector<Drawer> drawers;
  for (CapturePlot& plot : out.plots) drawers.emplace_back(plot);
  JobListener drawn = listener;
  if (listener.to_be_written)
    drawn.samples_of = [&](std::size_t k) -> CaptureListener {
      return {.matched = [&, k](const RigMatch& match) { drawers[k].begin(match); },
              .block = [&, k](const SampleBlock& block) { drawers[k].take(block); }};
    };
  static_cast<JudgedJob&>(out) = judge_job(job, folder, rig, plan, options, drawn);
  for (std::size_t k = 0; k < out.plots.size(); ++k) {
    if (listener.to_be_written) out.plots[k].events = out.events[k].all();
    out.plots[k].duration_s = out.facts[k].duration_s;
  }
  return out;
}

JobReport compare_reports(JobReport before, JobReport after) {
  JobReport out;
  out.plots = std::move(before.plots);
  out.plots.insert(out.plots.end(), std::make_move_iterator(after.plots.begin()),
                   std::make_move_iterator(after.plots.end()));
  static_cast<JudgedJob&>(out) = compare_jobs(std::move(before), std::move(after));
  if (out.plots.size() != out.report.captures.size())
    out.plots.clear();  // a report that was read has no samples to draw
  return out;
}

std::pair<const CapturePlot*, const CapturePlot*> first_of_each(const JobReport& report) {
  std::pair<const CapturePlot*, const CapturePlot*> out = {nullptr, nullptr};
  for (std::size_t k = 0; k < report.plots.size(); ++k) {
    const Phase phase = report.report.captures[k].phase;
    if (phase == Phase::BEFORE && !out.first) out.first = &report.plots[k];
    if (phase == Phase::AFTER && !out.second) out.second = &report.plots[k];
  }
  return out;
}

void write_report(const JobReport& report, const std::string& folder) {
  std::error_code error;
  fs::create_directories(folder, error);
  if (!fs::is_directory(folder))
    throw InputError(ExitStatus::kCannotCreate, folder, "", "cannot be made a folder",
                     "name a folder you may write to");
  const std::pair<const char*, std::string> files[] = {{"report.pb", to_wire(report.report)},
                                                       {"report.json", report_json(report.report)},
                                                       {"report.html", report_html(report)},
                                                       {"report.pdf", report_pdf(report)}};
  for (const auto& [name, content] : files) {
    WholeFile file((fs::path(folder) / name).string());
    file.write(content);
    file.commit();
  }
}

}  // namespace airlatch
