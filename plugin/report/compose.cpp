// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/compose.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "plugin/report/measure_words.hpp"
#include "plugin/session/kinds.hpp"
#include "plugin/session/quantity.hpp"

namespace airlatch {

Document composed(const JobReport& test, const Language& language) {
  const Job job = test.report.job.value_or(Job{});
  Document out;
  out.title = language.say("Test of the air-operated door locks");
  if (!job.vehicle.empty()) out.title += ": " + job.vehicle;
  out.author = job.garage;
  out.language = language.code();
  for (const std::string& part : {job.garage, job.vehicle, job.job_number, job.date})
    if (!part.empty()) out.foot += (out.foot.empty() ? "" : " · ") + part;
  if (out.foot.empty() && !test.report.captures.empty()) out.foot = test.report.captures[0].file;
  out.page_of = language.say("page {page} of {pages}", {{"page", "{page}"}, {"pages", "{pages}"}});
  out.sections.push_back(customer_page(test, language));
  out.sections.push_back(technician_pages(test));
  out.sections.push_back(appendix(test));
  return out;
}

Words capture_name(const Report& report, std::size_t capture) {
  if (capture >= report.captures.size()) return "?";
  const Report::Capture& one = report.captures[capture];
  Words out = as_typed(one.file);
  if (one.phase == Phase::BEFORE) out += " (before)";
  if (one.phase == Phase::AFTER) out += " (after)";
  if (!one.closed_branch.empty()) out += Words(", closed: ") + as_typed(one.closed_branch);
  return out;
}

std::string measure_words(const Measure& measure) {
  return measure_name(measure.name) + " " +
         format_quantity(measure.value, measure.u, measure.unit == "1" ? "" : measure.unit);
}

std::string event_words(const Event& event) {
  std::string text = row_of(event.kind).words(event);
  // What was stripped of its measures for a citation says so little that its way helps.
  if (event.measures.empty() && event.direction != Direction::UNKNOWN)
    text += fmt::format(" ({})", direction_words(event.direction));
  return text;
}

}  // namespace airlatch
