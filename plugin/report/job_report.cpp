// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/job_report.hpp"

#include <algorithm>
#include <filesystem>
#include <iterator>
#include <optional>

#include "decoders/stream/rig_scale.hpp"
#include "plugin/message/wire.hpp"
#include "plugin/report/compose.hpp"
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

constexpr const char* kFiles[] = {"report.pb", "report.json", "report.html", "report.pdf"};

// Whom a report is about: a job, or where it has none its captures' names.
Job job_of(const Report& report) {
  Job job = report.job.value_or(Job{});
  job.capture.clear();
  for (const Report::Capture& capture : report.captures)
    job.capture.emplace_back().file = capture.file;
  return job;
}

// Nothing where there is no report of ours.
std::optional<Job> job_in(const std::string& folder) {
  try {
    return job_of(read_report((fs::path(folder) / kFiles[0]).string()));
  } catch (const InputError&) {
    return std::nullopt;
  }
}

bool same_job(const std::optional<Job>& a, const Job& b) {
  if (!a || a->vehicle != b.vehicle || a->job_number != b.job_number) return false;
  return !b.vehicle.empty() || !b.job_number.empty() ||
         std::equal(a->capture.begin(), a->capture.end(), b.capture.begin(), b.capture.end(),
                    [](const auto& one, const auto& other) { return one.file == other.file; });
}

// The outermost folder that is to be made; empty where none is.
fs::path first_missing(const fs::path& folder) {
  fs::path missing;
  std::error_code error;
  for (fs::path at = folder; !at.empty() && !fs::exists(at, error); at = at.parent_path())
    missing = at;
  return missing;
}

// Folders that were made for files that could not be written.
void remove_made(const fs::path& folder, const fs::path& first_made) {
  std::error_code error;
  if (first_made.empty()) return;
  for (fs::path at = folder; fs::remove(at, error) && at != first_made;) at = at.parent_path();
}

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

void check_report_folder(const std::string& folder, const Job& job, bool force) {
  bool any = false;
  for (const char* name : kFiles) {
    const std::string path = (fs::path(folder) / name).string();
    std::error_code error;
    const fs::file_status about = fs::status(path, error);
    if (about.type() == fs::file_type::none)
      throw InputError(ExitStatus::kReadWriteFailed, path, "", error.message(),
                       "name another folder for the report");
    if (!fs::exists(about)) continue;
    any = true;
    if (!fs::is_regular_file(about))
      throw InputError(ExitStatus::kCannotCreate, path, "", "this is no file and stands in the way",
                       "name another folder for the report");
  }
  if (!any || force || same_job(job_in(folder), job)) return;
  throw InputError(ExitStatus::kCannotCreate, folder, "", "it holds the report of another job",
                   "name another folder, or overwrite that report with --force");
}

std::string report_html(const JobReport& report, const Language& language) {
  return html_page(composed(report, language));
}

std::string report_pdf(const JobReport& report, const ReportStyle& style) {
  return pdf_pages(composed(report, style.language), style.paper);
}

void write_report(const JobReport& report, const std::string& folder, bool force,
                  const ReportStyle& style) {
  const Document document = composed(report, style.language);
  const std::string contents[] = {to_wire(report.report), report_json(report.report),
                                  html_page(document), pdf_pages(document, style.paper)};
  check_report_folder(folder, job_of(report.report), force);
  const fs::path first_made = first_missing(folder);
  std::error_code error;
  fs::create_directories(folder, error);
  if (!fs::is_directory(folder, error))
    throw InputError(ExitStatus::kCannotCreate, folder, "", "cannot be made a folder",
                     "name a folder you may write to");
  std::vector<std::pair<std::string, std::string>> files;
  for (std::size_t k = 0; k < std::size(kFiles); ++k)
    files.emplace_back((fs::path(folder) / kFiles[k]).string(), contents[k]);
  try {
    write_together(files);
  } catch (...) {
    remove_made(folder, first_made);
    throw;
  }
}

}  // namespace airlatch
