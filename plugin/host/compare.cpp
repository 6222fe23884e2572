// SPDX-License-Identifier: GPL-3.0-or-later
// airlatch compare: two captures or two reports, and what really changed.
#include "plugin/verdict/compare.hpp"

#include <fmt/format.h>

#include <memory>

#include "plugin/host/commands.hpp"
#include "plugin/host/report_style.hpp"
#include "plugin/host/tell.hpp"
#include "plugin/message/plans.hpp"
#include "plugin/message/setup_file.hpp"
#include "plugin/report/job_report.hpp"
#include "plugin/report/report_file.hpp"
#include "plugin/report/words.hpp"
#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {

struct Options {
  StyleOptions style;
  std::string before, after, rig, rig_after, plan, report;
  double rate_hz = 0;
  bool all = false, force = false;
};

// A capture is decoded, a report is read.
JobReport state_of(const std::string& path, const Rig& rig, const Plan& plan, double rate_hz) {
  if (looks_like_report(path)) {
    JobReport state;
    state.report = read_report(path);
    return state;
  }
  Job job;
  job.capture.emplace_back().file = path;
  return make_report(job, "", rig, plan, {.rate_hz = rate_hz});
}

ExitStatus run(const Options& options) {
  const Rig rig = options.rig.empty() ? Rig() : read_rig(options.rig);
  const Rig rig_after = options.rig_after.empty() ? rig : read_rig(options.rig_after);
  const Plan plan = options.plan.empty() ? Plan() : find_plan(options.plan);
  const JobReport both = compare_reports(state_of(options.before, rig, plan, options.rate_hz),
                                         state_of(options.after, rig_after, plan, options.rate_hz));
  std::string out = fmt::format("before: {}\nafter:  {}\n", shown_name(options.before),
                                shown_name(options.after));
  for (const std::string& remark : both.report.remarks) out += shown_text(remark) + "\n";
  std::string event;
  int same = 0;
  for (const Report::Change& change : both.report.changes) {
    if (change.verdict == kNoRealChange && !options.all) {
      ++same;
      continue;
    }
    if (change.event != event) out += fmt::format("\n{}\n", shown_name(change.event));
    event = change.event;
    out += fmt::format("  {}\n", shown_text(change_words(change)));
  }
  if (same > 0) out += fmt::format("\nNo real change in {} measures (--all shows them).\n", same);
  if (!options.report.empty()) {
    write_report(both, options.report, options.force, options.style.style());
    out += fmt::format("\nWritten: {}/report.html, .pdf, .json, .pb\n", shown_name(options.report));
  }
  tell(out);
  return tell_damages(both.damages);
}

}  // namespace

Run add_compare(Arguments app) {
  auto options = std::make_shared<Options>();
  app.option("BEFORE", options->before, "a capture, a report.json or a report.pb")
      .required()
      .reads();
  app.option("AFTER", options->after, "the same, after the repair").required().reads();
  app.option("--rig", options->rig, "what each channel measures (protobuf text)").reads();
  app.option("--rig-after", options->rig_after, "where the second capture has its own rig").reads();
  app.option("--plan", options->plan, "a plan's name or file: limits and steps").reads();
  app.option("--report", options->report, "write report.html, .pdf, .json and .pb to this folder")
      .writes_report();
  options->style.declare(app);
  app.flag("--force", options->force, "overwrite another job's report in that folder");
  app.option("--rate", options->rate_hz, {1e-3, 1e8},
             "samples a second, for text without a time column");
  app.flag("--all", options->all, "show what did not change, too");
  app.footer(
      "A change counts as real beyond twice its combined standard uncertainty.\n\nExample:\n"
      "  airlatch compare captures/line-leak.sr captures/sound.sr --rig captures/line-leak.rig "
      "--rig-after captures/sound.rig");
  return [options] { return run(*options); };
}

}  // namespace airlatch
