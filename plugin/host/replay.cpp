// SPDX-License-Identifier: GPL-3.0-or-later
// airlatch replay: one stored capture, decoded.
#include <fmt/format.h>
#include <unistd.h>

#include <chrono>
#include <cstdio>
#include <memory>
#include <optional>

#include "plugin/host/commands.hpp"
#include "plugin/host/output.hpp"
#include "plugin/host/report_style.hpp"
#include "plugin/host/tell.hpp"
#include "plugin/message/event_json.hpp"
#include "plugin/message/plans.hpp"
#include "plugin/message/setup_file.hpp"
#include "plugin/report/job_report.hpp"
#include "plugin/report/words.hpp"
#include "plugin/session/summary.hpp"
#include "plugin/system/shown_text.hpp"
#include "plugin/verdict/rules.hpp"

namespace airlatch {
namespace {

struct Options {
  StyleOptions style;
  std::string capture, rig, plan, events, report;
  double rate_hz = 0;
  bool force = false, quiet = false, strict = false;
};

// The share done, on a terminal's stderr, once the work has taken a while.
class Progress {
 public:
  explicit Progress(bool quiet) : shown_(!quiet && ::isatty(STDERR_FILENO) != 0) {}
  ~Progress() {
    if (written_) std::fputs("\r\033[K", stderr);
  }
  void operator()(double done) {
    const auto now = std::chrono::steady_clock::now();
    if (!shown_ || done < 0 || now - last_ < std::chrono::milliseconds(500)) return;
    last_ = now;
    written_ = true;
    std::fputs(fmt::format("\rdecoding {:3.0f} %", 100 * done).c_str(), stderr);
  }

 private:
  bool shown_, written_ = false;
  std::chrono::steady_clock::time_point last_ = std::chrono::steady_clock::now();
};

std::string verdict_words(const Report& report) {
  const auto& findings = report.findings;
  const Finding& first = findings[0];
  std::string out =
      fmt::format("\nMost likely: {} ({}, {:.2f})\n", first.title, first.code, first.likelihood);
  for (std::size_t k = 1; k < findings.size() && findings[k].likelihood > 0.1; ++k)
    out += fmt::format("or: {} ({}, {:.2f})\n", findings[k].title, findings[k].code,
                       findings[k].likelihood);
  out += "Do next: " + first.next_step + "\n";
  if (!report.untested.empty()) out += untested_words(report.untested) + "\n";
  return out;
}

ExitStatus replay(const Options& options) {
  const Rig rig = options.rig.empty() ? Rig() : read_rig(options.rig);
  const Plan plan = options.plan.empty() ? Plan() : find_plan(options.plan);
  Job job;
  job.capture.emplace_back().file = options.capture;
  if (!options.report.empty()) check_report_folder(options.report, job, options.force);
  std::optional<Output> lines;
  if (!options.events.empty()) lines.emplace(options.events);
  const bool print = options.events != "-" && !options.quiet;
  JobReport test;
  {
    Progress progress(options.quiet);
    test = make_report(job, "", rig, plan, {.rate_hz = options.rate_hz},
                       {.on_event =
                            [&](const Event& event) {
                              if (lines) lines->write(event_json(event) + "\n");
                            },
                        .on_progress = [&](double done) { progress(done); },
                        .to_be_written = !options.report.empty()});
  }
  if (lines) lines->close();
  const CaptureFacts& facts = test.facts[0];
  if (print) {
    write_summary(facts, test.events[0], tell);
    std::string text;
    if (test.report.contact_finding) {
      text += "\nContacts\n";
      for (const std::string& line : contact_words(*test.report.contact_finding))
        text += fmt::format("  {}\n", shown_text(line));
    }
    tell(text + verdict_words(test.report));
  }
  if (!options.report.empty())
    write_report(test, options.report, options.force, options.style.style());
  if (!facts.damage.empty()) {
    tell_error(facts.damage);
    return ExitStatus::kUnusableData;
  }
  return options.strict && is_fault(test.report.findings[0].code) ? ExitStatus::kFault
                                                                  : ExitStatus::kDone;
}

}  // namespace

Run add_replay(Arguments app) {
  auto options = std::make_shared<Options>();
  app.option("CAPTURE", options->capture,
             "libsigrok session (.sr), delimited text, or WAV; recognised by content. - reads "
             "delimited text from standard input")
      .required()
      .reads();
  app.option("--rig", options->rig, "what each channel measures (protobuf text)").reads();
  app.option("--plan", options->plan, "a plan's name or file: limits and steps").reads();
  app.option("--events", options->events,
             "write events as JSON lines to FILE; - for standard output and nothing else there")
      .writes();
  app.option("--report", options->report, "write report.html, .pdf, .json and .pb to this folder")
      .writes_report();
  options->style.declare(app);
  app.flag("--force", options->force, "overwrite another job's report in that folder");
  app.option("--rate", options->rate_hz, {1e-3, 1e8},
             "samples a second, for text without a time column");
  app.flag("--quiet", options->quiet, "no summary and no progress");
  app.flag("--strict", options->strict, "exit status 1 when the verdict is a fault");
  app.footer(
      "Examples:\n"
      "  airlatch replay captures/sound.sr\n"
      "  airlatch replay meter.csv --rig bench.rig --events events.jsonl\n"
      "  airlatch replay captures/sound.sr --events - | head -1\n"
      "\nA channel named supply_v, feed_a_v, feed_b_v, return_v, motor_a, line_kpa, branch_kpa, "
      "air_c\n"
      "or command needs no rig.");
  return [options] { return replay(*options); };
}

}  // namespace airlatch
