// SPDX-License-Identifier: GPL-3.0-or-later
// The appendix: what a stranger needs who wants to check the report in ten years.
#include <fmt/format.h>

#include <algorithm>
#include <sstream>

#include "plugin/message/text_format.hpp"
#include "plugin/report/compose.hpp"
#include "plugin/report/measure_words.hpp"
#include "plugin/session/kinds.hpp"
#include "plugin/session/quantity.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kMostEvents = 400;  // a day has tens of thousands: report.json has all

// Text format with each field of the outermost message on a line, what is nested in it beside it.
std::string compact(const std::string& text) {
  std::istringstream lines(text);
  std::string out;
  int depth = 0;
  for (std::string line; std::getline(lines, line);) {
    const std::size_t from = line.find_first_not_of(' ');
    if (from == std::string::npos) continue;
    const bool closes = line.substr(from) == "}";
    if (depth > 0) out += ' ';
    out += line.substr(from);
    depth += line.ends_with(" {") ? 1 : closes ? -1 : 0;
    if (depth == 0) out += '\n';
  }
  return out;
}

class Appendix {
 public:
  explicit Appendix(const JobReport& test) : test_(test), report_(test.report) {}

  Section section() {
    out_.label = "Appendix";
    put(Heading{1, "Appendix: what this report rests on"});
    job();
    files();
    rigs();
    put(Heading{2, "Plan and limits"});
    put(Verbatim{"Plan", compact(print_text(report_.plan))});
    events();
    definitions();
    rules();
    return std::move(out_);
  }

 private:
  void put(Block block) { out_.blocks.push_back(std::move(block)); }

  void job() {
    const Job job = report_.job.value_or(Job{});
    Facts facts;
    std::string missing;
    for (const auto& [name, value] :
         {std::pair("Vehicle", job.vehicle), std::pair("Garage", job.garage),
          std::pair("Customer", job.customer), std::pair("Job", job.job_number),
          std::pair("Date", job.date), std::pair("Odometer", job.odometer),
          std::pair("Technician", job.technician)}) {
      if (!value.empty())
        facts.rows.emplace_back(name, as_typed(value));
      else
        missing += (missing.empty() ? "" : ", ") + std::string(name);
    }
    if (!facts.rows.empty()) put(std::move(facts));
    if (!missing.empty()) put(Paragraph{"Not recorded in the job: " + missing + ".", Look::kSoft});
  }

  void files() {
    put(Heading{2, "Files"});
    Table table{
        .caption = "Captures",
        .columns = {
            {"File", 2}, {"Shows", 1.6}, {"Length", 0.9, true}, {"Begun", 1.5}, {"SHA-256", 3}}};
    for (const Report::Capture& capture : report_.captures) {
      std::string shows = capture.phase == Phase::BEFORE  ? "before"
                          : capture.phase == Phase::AFTER ? "after"
                                                          : "";
      if (!capture.step.empty()) shows += (shows.empty() ? "step " : ", step ") + capture.step;
      if (!capture.closed_branch.empty())
        shows += (shows.empty() ? "closed: " : ", closed: ") + capture.closed_branch;
      table.rows.push_back({as_typed(capture.file), as_typed(shows),
                            fmt::format("{:.6g} s", capture.duration_s),
                            capture.started.empty() ? "not known" : capture.started,
                            capture.sha256.empty() ? "not known" : capture.sha256});
    }
    put(std::move(table));
    Table channels{.caption = "Channels",
                   .columns = {{"File", 2},
                               {"Channel", 1.4},
                               {"Measures", 1.8},
                               {"Samples a second", 1.2, true},
                               {"Samples", 1, true}}};
    Bullets remarks;
    for (const Report::Capture& capture : report_.captures) {
      for (const auto& channel : capture.channels)
        channels.rows.push_back(
            {as_typed(capture.file), as_typed(channel.name), role_words(channel.role),
             channel.rate_hz > 0 ? fmt::format("{:.6g}", channel.rate_hz) : "own times",
             std::to_string(channel.samples)});
      for (const std::string& fact : capture.understood)
        remarks.items.push_back(as_typed(capture.file) + ": " + fact);
      for (const std::string& remark : capture.remarks)
        remarks.items.push_back(as_typed(capture.file) + ": " + remark);
    }
    if (!channels.rows.empty()) put(std::move(channels));
    if (!remarks.items.empty()) {
      put(Heading{3, "Remarks on the files"});
      put(std::move(remarks));
    }
  }

  static std::string role_words(Role role) {
    std::string name = measure_name(name_of(role));
    std::transform(name.begin(), name.end(), name.begin(),
                   [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c; });
    return name;
  }

  // Each once, with the captures it was used for.
  void rigs() {
    put(Heading{2, "Rigs"});
    std::vector<std::pair<Rig, std::string>> all;
    for (const Report::Capture& capture : report_.captures) {
      if (!capture.rig) continue;  // the report of an older version
      const auto at = std::find_if(all.begin(), all.end(),
                                   [&](const auto& one) { return one.first == *capture.rig; });
      if (at == all.end())
        all.emplace_back(*capture.rig, capture.file);
      else
        at->second += ", " + capture.file;
    }
    for (const auto& [rig, files] : all) {
      const std::string text = compact(print_text(rig));
      put(Verbatim{"Rig of " + files,
                   text.empty() ? "# none: channels are known by their names" : text});
    }
  }

  void events() {
    put(Heading{2, "All events and measures"});
    put(
        Paragraph{"Every ± is one standard uncertainty (JCGM 100, k = 1). Times count from a "
                  "capture's first sample.",
                  Look::kSoft});
    std::size_t left = kMostEvents;
    if (test_.events.size() == report_.captures.size())
      for (std::size_t k = 0; k < test_.events.size(); ++k)
        event_table(test_.events[k].all(), capture_name(report_, k).plain(), left);
    else
      event_table(report_.events, "Events", left);
    if (left == 0)
      put(Paragraph{fmt::format("The first {} of {} events; all are in report.json.", kMostEvents,
                                report_.events.size()),
                    Look::kSoft});
  }

  void event_table(const std::vector<Event>& all, const std::string& caption, std::size_t& left) {
    Table table{
        .caption = caption,
        .columns = {
            {"Time", 1.2, true}, {"Event", 1.3}, {"Measures", 3.4}, {"Missing, and remarks", 2.4}}};
    for (const Event& event : all) {
      if (left == 0) break;
      --left;
      std::string kind = name_of(event.kind);
      if (event.contact != Contact::NONE) kind += " " + name_of(event.contact);
      Words measures;
      for (const Measure& measure : event.measures)
        measures += Words(measures.empty() ? "" : "\n") + Words(measure_words(measure));
      table.rows.push_back({format_quantity(event.time_s, std::max(event.time_u_s, 1e-6), "s"),
                            kind, measures, Words(remark_words(event))});
    }
    if (!table.rows.empty()) put(std::move(table));
  }

  void definitions() {
    put(Heading{2, "How each figure is defined"});
    Table table{.caption = "Measures", .columns = {{"Measure", 1.5}, {"Is", 4}}};
    for (const MeasureRow& row : measure_rows()) table.rows.push_back({row.name, row.definition});
    put(std::move(table));
  }

  void rules() {
    put(Heading{2, "Rules"});
    put(
        Bullets{{"Decision rule: a value passes where it is inside its limit by twice its standard "
                 "uncertainty or more "
                 "(guard band, ILAC-G8:09/2019, 4.2.3), fails where it is outside by as much, and "
                 "is too close to call "
                 "between.",
                 "Limits are the plan's; where the plan has none, built-in ones, which are common "
                 "practice and have no "
                 "source.",
                 "Likelihoods follow from a table of how often each statement holds when a finding "
                 "is the truth "
                 "(plugin/verdict/rules.cpp of this version).",
                 "This is the report of a workshop's test, of no accredited laboratory. It is "
                 "about this vehicle at the "
                 "time of the test."}});
    put(Paragraph{"Written by airlatch " + report_.software_version +
                      ". report.json and report.pb hold the exact values. End of the report.",
                  Look::kSoft});
  }

  const JobReport& test_;
  const Report& report_;
  Section out_;
};

}  // namespace

Section appendix(const JobReport& test) { return Appendix(test).section(); }

}  // namespace airlatch
