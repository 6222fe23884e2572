// SPDX-License-Identifier: GPL-3.0-or-later
// The report as one self-contained page: readable on a phone, printable, nothing fetched.
// Everything a user typed is escaped and isolated in its own direction.
#include <fmt/format.h>

#include <algorithm>

#include "plugin/message/text_format.hpp"
#include "plugin/report/html_parts.hpp"
#include "plugin/report/job_report.hpp"
#include "plugin/report/overlay.hpp"
#include "plugin/report/words.hpp"
#include "plugin/session/kinds.hpp"
#include "plugin/session/quantity.hpp"
#include "plugin/verdict/compare.hpp"
#include "plugin/verdict/rules.hpp"

namespace airlatch {
namespace {

constexpr const char* kStyle = R"(
:root{--ink:#1d2329;--soft:#4d5760;--line:#c9ced4;--paper:#fff;--shade:#f3f5f7;--note:#fff6e0;--edge:#8a5a00}
*{box-sizing:border-box}
body{margin:0 auto;max-width:60rem;padding:1rem;font:16px/1.5 system-ui,sans-serif;color:var(--ink);background:var(--paper);overflow-wrap:anywhere}
h1{font-size:1.5rem;margin:.2rem 0}h2{font-size:1.2rem;margin:1.6rem 0 .4rem;border-bottom:2px solid var(--line)}h3{font-size:1rem;margin:1rem 0 .2rem}
p{margin:.3rem 0}.soft{color:var(--soft)}
.verdict{border:2px solid var(--ink);padding:.8rem 1rem;margin:1rem 0}.verdict strong{font-size:1.25rem}
.caution{background:var(--note);border-left:6px solid var(--edge);padding:.5rem 1rem;margin:1rem 0}
.scroll{overflow-x:auto}table{border-collapse:collapse;width:100%;font-size:.9rem}
th,td{text-align:left;vertical-align:top;padding:.25rem .6rem;border-bottom:1px solid var(--line)}th{background:var(--shade)}th,td b{white-space:nowrap}td{overflow-wrap:break-word}
.events td:first-child,.events td:nth-child(2){white-space:nowrap}.events td:nth-child(3){min-width:20rem;width:60%}.m{display:inline-block;white-space:nowrap;margin-right:.8rem}figure{margin:1rem 0}img{width:100%;height:auto;border:1px solid var(--line)}
pre{background:var(--shade);padding:.6rem;overflow-x:auto;font-size:.8rem}
@media print{body{max-width:none;padding:0;font-size:11pt}h2{break-after:avoid}figure,.verdict,.caution,tr{break-inside:avoid}.scroll{overflow:visible}td{overflow-wrap:anywhere}}
)";

constexpr int kMostEvents = 400;  // in the page's table: a day has tens of thousands

std::string findings_list(const auto& findings) {
  std::string out = "<ol>\n";
  for (const Finding& finding : findings) {
    out += fmt::format("<li><b>{}</b> ({}), likelihood {:.2f}", escaped(finding.title),
                       finding.code, finding.likelihood);
    if (std::ssize(finding.evidence) > 0) {
      out += "<ul>";
      for (const std::string& because : finding.evidence)
        out += "<li>" + escaped(because) + "</li>";
      out += "</ul>";
    }
    out += "</li>\n";
  }
  return out + "</ol>\n";
}

std::string quantity(const Measure& m) { return escaped(format_quantity(m.value, m.u, m.unit)); }

std::string page_head(const Job& job) {
  const std::string vehicle = job.vehicle.empty() ? "not named" : job.vehicle;
  std::string out = fmt::format(
      "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta "
      "name=\"viewport\" "
      "content=\"width=device-width, initial-scale=1\">\n<title>Test report: {}</title>\n"
      "<style>{}</style>\n</head>\n<body>\n<header>\n<h1>Air lock test report</h1>\n<p>Vehicle: "
      "{}</p>\n",
      escaped(vehicle), kStyle, typed(vehicle));
  if (!job.job_number.empty()) out += "<p>Job: " + typed(job.job_number) + "</p>\n";
  return out + "</header>\n";
}

std::string verdict_section(const Report& report) {
  if (report.findings.empty()) return {};
  const Finding& first = report.findings[0];
  return fmt::format(
      "<section class=\"verdict\" aria-label=\"Verdict\">\n<p>{}</p>\n<p><strong>{}</strong> "
      "<span "
      "class=\"soft\">({}, likelihood {:.2f})</span></p>\n<p><b>Do next:</b> "
      "{}</p>\n</section>\n",
      report.before_findings.empty() ? "Most likely:" : "After the repair, most likely:",
      escaped(first.title), first.code, first.likelihood, escaped(first.next_step));
}

std::string cautions_section(const JobReport& test) {
  std::string out = "<section class=\"caution\" aria-label=\"Cautions\">\n<b>Cautions</b>\n<ul>\n";
  for (const std::string& caution : test.report.cautions)
    out += "<li>" + escaped(caution) + "</li>\n";
  out += "</ul>\n</section>\n";
  for (const std::string& damage : test.damages)
    out += "<p class=\"caution\">Cut short: " + escaped(damage) + "</p>\n";
  return out;
}

std::string findings_section(const Report& report) {
  std::string out = "<h2>Findings</h2>\n" + findings_list(report.findings);
  if (!report.untested.empty()) out += "<p>" + escaped(untested_words(report.untested)) + "</p>\n";
  if (!report.before_findings.empty())
    out += "<h3>Before the repair</h3>\n" + findings_list(report.before_findings);
  return out;
}

// As the plan calls it; its id where it does not.
std::string step_title(const Plan& plan, const std::string& id) {
  for (const Plan::Step& step : plan.step) {
    if (step.id != id) continue;
    return step.title.empty() ? id : step.title;
  }
  return id;
}

std::string steps_section(const Report& report) {
  if (report.steps.empty()) return {};
  std::string rows = row({"Step", "Outcome", "Limits"}, "th");
  for (const Report::StepResult& step : report.steps) {
    std::string limits;
    for (const Report::LimitResult& limit : step.limits)
      limits += escaped(limit_words(limit)) + "<br>";
    if (!step.note.empty()) limits += "<span class=\"soft\">" + escaped(step.note) + "</span>";
    rows += row({typed(step_title(report.plan, step.id)),
                 "<b>" + outcome_words(step.outcome) + "</b>", limits});
  }
  return "<h2>Steps</h2>\n<p class=\"soft\">Plan: " + typed(report.plan.name) + "</p>\n" +
         table("Steps", rows);
}

std::string changes_section(const JobReport& test) {
  const Report& report = test.report;
  if (report.changes.empty()) return {};
  std::string out = "<h2>Before against after</h2>\n", rows;
  for (const std::string& remark : report.remarks) out += "<p>" + escaped(remark) + "</p>\n";
  const auto [before, after] = first_of_each(test);
  if (before && after && can_overlay(*before, *after)) {
    Canvas canvas(Canvas::Kind::kSvg, 720, 330);
    draw_overlay(canvas, *before, *after, 8, 4, 704, 322);
    out += figure(canvas.finish(),
                  "Motor current and line pressure from the motor's start, before and after, one "
                  "laid over the other. The table lists the differences.",
                  "From the motor's start: before dashed, after solid.");
  }
  int same = 0;
  for (const Report::Change& change : report.changes) {
    if (change.verdict == kNoRealChange) {
      ++same;
      continue;
    }
    const bool compared = change.verdict != kNotComparable && !change.measure.empty();
    rows += row({escaped(change.event), escaped(change.measure),
                 compared ? quantity(*change.before) : "", compared ? quantity(*change.after) : "",
                 compared ? escaped(format_quantity(change.change, change.u, "")) : "",
                 "<b>" + escaped(change.verdict) + "</b> " + escaped(change.reason)});
  }
  if (!rows.empty())
    out += table("Changes",
                 row({"Event", "Measure", "Before", "After", "Change", "Verdict"}, "th") + rows);
  return out + fmt::format("<p class=\"soft\">No real change in {} measures.</p>\n", same);
}

std::string budgets_section(const Report& report) {
  if (report.leak_budgets.empty()) return {};
  std::string out = "<h2>Branches</h2>\n";
  for (const Report::LeakBudget& budget : report.leak_budgets) {
    out += fmt::format("<p>Held after {}: <b>{}</b></p>\n", direction_words(budget.direction),
                       typed(budget.conclusion));
    if (budget.branches.empty()) continue;
    std::string rows = row({"Part", "Loses, kPa/min of the whole line"}, "th");
    for (const auto& branch : budget.branches)
      rows += row({typed(branch.name), quantity(branch.loss)});
    rows += row({"pump, trunk and what was not closed", quantity(*budget.rest)});
    rows += row({"whole line", quantity(*budget.whole)});
    out += table("Leak budget", rows);
  }
  return out;
}

std::string contacts_section(const Report& report) {
  if (!report.contact_finding.has_value()) return {};
  std::string out = "<h2>Contacts</h2>\n<ul>\n";
  for (const std::string& line : contact_words(*report.contact_finding))
    out += "<li>" + typed(line) + "</li>\n";
  return out + "</ul>\n";
}

std::string capture_caption(const Report::Capture& capture) {
  std::string out = typed(capture.file);
  if (capture.phase != Phase::UNSPECIFIED)
    out += capture.phase == Phase::BEFORE ? ", before the repair" : ", after the repair";
  if (!capture.closed_branch.empty()) out += ", closed: " + typed(capture.closed_branch);
  return out + ". Dashed red: the leak that was fitted, with two standard uncertainties.";
}

std::string captures_section(const JobReport& test) {
  if (test.plots.empty()) return {};
  std::string out = "<h2>Captures</h2>\n";
  for (std::size_t k = 0; k < test.plots.size(); ++k) {
    const CapturePlot& plot = test.plots[k];
    Canvas canvas(Canvas::Kind::kSvg, 720, 420);
    plot.draw(canvas, 8, 4, 704, 412);
    out += figure(canvas.finish(), plot.described(),
                  capture_caption(test.report.captures[static_cast<int>(k)]));
  }
  return out;
}

std::string event_row(const Event& event) {
  std::string measures;
  for (const Measure& m : event.measures)
    measures += "<span class=\"m\">" + escaped(m.name) + " " + quantity(m) + "</span> ";
  std::string kind = name_of(event.kind);
  if (event.contact != Contact::NONE) kind += " " + name_of(event.contact);
  return row({escaped(format_quantity(event.time_s, std::max(event.time_u_s, 1e-6), "s")), kind,
              measures, escaped(remark_words(event))});
}

std::string events_table(const Report& report) {
  std::string rows = row({"Time", "Event", "Measures", "Remarks"}, "th");
  const int shown = std::min(static_cast<int>(report.events.size()), kMostEvents);
  for (int k = 0; k < shown; ++k) rows += event_row(report.events[k]);
  std::string out = table("Events", rows, " class=\"events\"");
  if (shown < std::ssize(report.events))
    out += fmt::format("<p class=\"soft\">The first {} of {} events; all are in report.json.</p>\n",
                       shown, std::ssize(report.events));
  return out;
}

std::string files_list(const Report& report) {
  std::string out = "<h3>Files</h3>\n<ul>\n";
  for (const Report::Capture& capture : report.captures) {
    out += fmt::format("<li>{}: {:.6g} s, SHA-256 <code>{}</code>", typed(capture.file),
                       capture.duration_s, capture.sha256);
    for (const auto& channel : capture.channels)
      out += fmt::format("; {} as {} at {:.6g}/s", typed(channel.name), name_of(channel.role),
                         channel.rate_hz);
    for (const std::string& fact : capture.understood) out += "; " + escaped(fact);
    for (const std::string& remark : capture.remarks) out += "; " + escaped(remark);
    out += "</li>\n";
  }
  return out + "</ul>\n";
}

// What the report rests on: the rig, the plan and the program, as they were.
std::string basis_section(const Report& report) {
  const std::string rig = print_text(report.rig), plan = print_text(report.plan);
  return fmt::format(
      "<h3>Rig</h3>\n<pre tabindex=\"0\">{}</pre>\n<h3>Plan and limits</h3>\n<pre "
      "tabindex=\"0\">{}</pre>\n<p class=\"soft\">Every ± is a standard uncertainty (JCGM 100, k = "
      "1). "
      "Limits are those of the plan; the built-in ones are common practice, no source. airlatch "
      "{}.</p>\n",
      escaped(rig), escaped(plan), escaped(report.software_version));
}

}  // namespace

std::string report_html(const JobReport& test) {
  const Report& report = test.report;
  std::string out = page_head(report.job.value_or(Job{})) + "<main>\n";
  // First page: the verdict, what to do, the cautions.
  out += verdict_section(report);
  out += cautions_section(test);
  out += findings_section(report);
  out += steps_section(report);
  out += budgets_section(report);
  out += contacts_section(report);
  out += changes_section(test);
  out += captures_section(test);
  out += "<h2>Details</h2>\n" + events_table(report) + files_list(report) + basis_section(report);
  return out + "</main>\n</body>\n</html>\n";
}

}  // namespace airlatch
