// SPDX-License-Identifier: GPL-3.0-or-later
// airlatch report: a whole job judged and written.
#include <fmt/format.h>

#include <filesystem>
#include <memory>

#include "plugin/host/commands.hpp"
#include "plugin/host/report_style.hpp"
#include "plugin/host/tell.hpp"
#include "plugin/message/plans.hpp"
#include "plugin/message/setup_file.hpp"
#include "plugin/report/job_report.hpp"
#include "plugin/report/words.hpp"
#include "plugin/system/shown_text.hpp"
#include "plugin/verdict/rules.hpp"

namespace airlatch {
namespace {

struct Options {
  StyleOptions style;
  std::string job, rig, plan = "bench-pump", folder = "report";
  double rate_hz = 0;
  bool list_plans = false, force = false, quiet = false, strict = false;
};

std::string summary(const JobReport& test, const std::string& folder) {
  const Report& report = test.report;
  std::string out;
  if (report.job && !report.job->vehicle.empty()) out += shown_name(report.job->vehicle) + "\n\n";
  for (const Report::StepResult& step : report.steps) {
    out += fmt::format("  {:16} {}\n", shown_name(step.id), outcome_words(step.outcome));
    for (const Report::LimitResult& limit : step.limits)
      if (limit.verdict != Outcome::PASS)
        out += fmt::format("      {}\n", shown_text(limit_words(limit)));
  }
  for (const Report::LeakBudget& budget : report.leak_budgets)
    out += fmt::format("\n{}\n", shown_text(budget.conclusion));
  if (report.contact_finding)
    for (const std::string& line : contact_words(*report.contact_finding))
      out += fmt::format("  {}\n", shown_text(line));
  const Finding& first = report.findings[0];
  out += fmt::format("\nMost likely: {} ({}, {:.2f})\nDo next: {}\n", first.title, first.code,
                     first.likelihood, first.next_step);
  if (!report.untested.empty()) out += untested_words(report.untested) + "\n";
  for (const std::string& caution : report.cautions) out += "Caution: " + caution + "\n";
  return out + "\nWritten: " + shown_name(folder) + "/report.html, .pdf, .json, .pb\n";
}

ExitStatus run(const Options& options, FileUses uses) {
  if (options.list_plans) {
    std::string text = "Plans that come with the program (--plan NAME; or a file of your own):\n";
    for (const BuiltInPlan& plan : built_in_plans())
      text += fmt::format("  {:18}{}\n", plan.name, plan.about);
    tell(text);
    return ExitStatus::kDone;
  }
  if (options.job.empty())
    throw InputError(ExitStatus::kUsage, "", "", "report needs a job file",
                     "airlatch report --help shows one");
  const Plan plan = find_plan(options.plan);
  const Job job = read_job(options.job, plan);
  if (std::ssize(job.capture) == 0)
    throw InputError(ExitStatus::kUnusableData, options.job, "", "the job has no capture",
                     "add capture { file: \"NAME.sr\" }");
  const Rig rig = options.rig.empty() ? Rig() : read_rig(options.rig);
  const std::string folder = std::filesystem::path(options.job).parent_path().string();
  for (const Job::Capture& capture : job.capture) {
    uses.reads("a capture of the job", found_in(folder, capture.file));
    uses.reads("a rig of the job", found_in(folder, capture.rig));
  }
  uses.check();
  check_report_folder(options.folder, job, options.force);
  const JobReport report = make_report(job, folder, rig, plan, {.rate_hz = options.rate_hz});
  write_report(report, options.folder, options.force, options.style.style());
  if (!options.quiet) tell(summary(report, options.folder));
  if (const ExitStatus status = tell_damages(report.damages); status != ExitStatus::kDone)
    return status;
  return options.strict && is_fault(report.report.findings[0].code) ? ExitStatus::kFault
                                                                    : ExitStatus::kDone;
}

}  // namespace

Run add_report(Arguments app) {
  auto options = std::make_shared<Options>();
  app.option("JOB", options->job, "the job: its captures, their steps, before or after").reads();
  app.option("--rig", options->rig, "what each channel measures (protobuf text)").reads();
  app.option("--plan", options->plan, "a plan's name or file (default bench-pump)").reads();
  app.option("--report", options->folder, "folder to write to (default: report)").writes_report();
  options->style.declare(app);
  app.flag("--force", options->force, "overwrite another job's report in that folder");
  app.option("--rate", options->rate_hz, {1e-3, 1e8},
             "samples a second, for text without a time column");
  app.flag("--list-plans", options->list_plans, "show the plans that come with the program");
  app.flag("--quiet", options->quiet, "no summary");
  app.flag("--strict", options->strict, "exit status 1 when the verdict is a fault");
  app.footer(
      "A job file (protobuf text), captures beside it:\n"
      "  vehicle: \"Merganser estate, 1984\"  job_number: \"S-0412\"\n"
      "  capture { file: \"before.sr\" phase: BEFORE rig: \"before.rig\" }\n"
      "  capture { file: \"after.sr\" phase: AFTER rig: \"before.rig\" }\n\n"
      "Example:\n  airlatch report captures/merganser.job --report /tmp/report");
  return [options, app] { return run(*options, app.file_uses()); };
}

}  // namespace airlatch
