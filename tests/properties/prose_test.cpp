// SPDX-License-Identifier: GPL-3.0-or-later
// No logic on prose: notes and texts are for people. Replacing each of them by "x" changes no step,
// finding, comparison, leak budget, guidance or exit status; for rehearsals of every fault, with
// fast and slow meters, with and without a plan, and through reports that the program reads back.
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <sstream>

#include "plugin/live/guide.hpp"
#include "plugin/message/plans.hpp"
#include "plugin/rehearse/write.hpp"
#include "plugin/session/steps.hpp"
#include "plugin/verdict/branches.hpp"
#include "plugin/verdict/compare.hpp"
#include "plugin/verdict/rules.hpp"
#include "tests/properties/rehearsed_events.hpp"
#include "tests/support/program.hpp"

namespace airlatch {
namespace {
using namespace test;

std::vector<Event> without_prose(std::vector<Event> events) {
  for (Event& event : events) {
    event.note = "x";
    for (Missing& missing : event.missing) missing.text = "x";
  }
  return events;
}

// ---- What is decided, in a form that can be compared; prose is left out of it.

using Lines = std::vector<std::string>;

void add_steps(Lines& out, const std::vector<Report::StepResult>& steps) {
  for (const Report::StepResult& step : steps) {
    out.push_back(step.id + " " + name_of(step.outcome));
    for (const Report::LimitResult& limit : step.limits)
      out.push_back("  " + limit.limit.measure + " " + name_of(limit.verdict) +
                    (limit.undecided ? " undecided" : ""));
  }
}

Lines steps(const std::vector<Event>& events, const Plan& plan) {
  Lines out;
  add_steps(out, judge_steps(plan, events));
  return out;
}

Lines findings(const std::vector<Event>& events, const Plan& plan) {
  Lines out;
  for (const Finding& finding : judge(gather_evidence({events}, limits_of(plan)))) {
    out.push_back(finding.code + " " + std::to_string(finding.likelihood));
    out.push_back(finding.next_step);
    out.insert(out.end(), finding.evidence.begin(), finding.evidence.end());
    out.insert(out.end(), finding.cautions.begin(), finding.cautions.end());
  }
  return out;
}

Lines changes(const std::vector<Event>& before, const std::vector<Event>& after) {
  Lines out;
  for (const Report::Change& change : compare_events(before, after, limits_of({})))
    out.push_back(change.event + " " + change.measure + " " + change.verdict + " " +
                  std::to_string(change.change));
  return out;
}

// Every other hold with a branch closed.
Lines budgets(const std::vector<Event>& events) {
  std::vector<Hold> holds;
  for (const bool closed : {false, true})
    for (const Event& event : events)
      if (event.kind == Kind::LEAK_DECAY)
        holds.push_back({closed ? Lines{"rear"} : Lines{}, event});
  Lines out;
  for (const Report::LeakBudget& budget : leak_budgets(holds, limits_of({})))
    out.push_back(name_of(budget.direction) + " " + budget.leaking + " " +
                  std::to_string(budget.branches.size()) + " " + budget.conclusion);
  return out;
}

Lines guidance(const std::vector<Event>& events, const Plan& plan) {
  Guide guide(plan);
  Lines out;
  for (const Event& event : events) {
    guide.on_time(event.time_s);
    guide.on_event(event);
    out.push_back(guide.prompt());
    for (const std::string& news : guide.news()) out.push_back(news);
  }
  add_steps(out, guide.results());
  return out;
}

class Prose : public testing::TestWithParam<std::int64_t> {};

TEST_P(Prose, OfEventsDecidesNothing) {
  std::vector<std::vector<Event>> all;
  for (const Rehearsal& r : rehearse_all(GetParam(), 12)) all.push_back(decode_by(r, {}));
  const std::vector<Event>& sound = all.front();
  std::size_t texts = 0, decided = 0;
  for (const std::vector<Event>& events : all) {
    const std::vector<Event> bare = without_prose(events);
    for (const Event& event : events) texts += event.missing.size() + !event.note.empty();
    for (const Plan& plan : {Plan{}, find_plan("bench-pump"), find_plan("in-car")}) {
      EXPECT_EQ(steps(bare, plan), steps(events, plan));
      EXPECT_EQ(findings(bare, plan), findings(events, plan));
      EXPECT_EQ(guidance(bare, plan), guidance(events, plan));
      decided += steps(events, plan).size();
    }
    EXPECT_EQ(budgets(bare), budgets(events));
    EXPECT_EQ(changes(bare, without_prose(sound)), changes(events, sound));
    decided += changes(events, sound).size();
  }
  EXPECT_GT(texts, 50U);
  EXPECT_GT(decided, 400U);
}

INSTANTIATE_TEST_SUITE_P(Meters, Prose, testing::Values(500, 4),
                         [](const auto& test) { return std::to_string(test.param) + "PerSecond"; });

// ---- Through the program

// Words for people, wherever they stand in a report; some are lists.
void replace_prose(nlohmann::json& node, std::size_t& replaced) {
  const auto blank = [&](nlohmann::json& text) {
    if (!text.is_string()) return;
    text = "x";
    ++replaced;
  };
  if (node.is_array())
    for (auto& one : node) replace_prose(one, replaced);
  if (!node.is_object()) return;
  for (auto& [key, value] : node.items()) {
    const bool prose = key == "note" || key == "text" || key == "reason" || key == "conclusion" ||
                       key == "remark" || key == "remarks";
    if (prose && value.is_array())
      for (auto& one : value) blank(one);
    else if (prose)
      blank(value);
    else
      replace_prose(value, replaced);
  }
}

// What compare prints below its head, with the words behind "not comparable" taken off.
std::string verdicts(const std::string& out) {
  std::istringstream lines(out.substr(out.find("\n\n")));
  std::string kept;
  for (std::string line; std::getline(lines, line);) {
    if (const auto at = line.find(kNotComparable); at != std::string::npos)
      line.resize(at + std::string(kNotComparable).size());
    kept += line + "\n";
  }
  return kept;
}

class ReportedProse : public testing::Test {
 protected:
  // Judges a rehearsal, and writes its report once as it is and once without its prose.
  void judged(const std::string& name, std::int64_t rate_hz) {
    const Rehearsal r = rehearse({.fault = name, .rate_hz = rate_hz, .seed = 62, .hold_s = 12});
    const std::string capture = folder_.at(name + ".csv"), rig = folder_.at(name + ".rig");
    write_csv(capture, r);
    write_rig(rig, r);
    const std::string job = folder_.write(
        name + ".job", "vehicle: \"Merganser estate\" capture { file: \"" + name + ".csv\" }");
    const std::string report = folder_.at(name);
    const Ran replayed =
        run({"replay", capture, "--rig", rig, "--plan", "bench-pump", "--strict", "--quiet"});
    const Ran reported =
        run({"report", job, "--rig", rig, "--plan", "bench-pump", "--strict", "--report", report});
    auto json = nlohmann::json::parse(read_file(report + "/report.json"));
    // The exit status is that of the verdict over the same events without prose.
    const Plan plan = find_plan("bench-pump");
    const auto bare = without_prose(decode_by(r, plan));
    const bool fault = is_fault(judge(gather_evidence({bare}, limits_of(plan)))[0].code);
    EXPECT_EQ(replayed.status, fault ? 1 : 0) << name;
    EXPECT_EQ(reported.status, fault ? 1 : 0) << name << reported.err;
    faults_ += fault;
    replace_prose(json, replaced_);
    folder_.write(name + ".json", report_of(name));
    folder_.write(name + ".bare.json", json.dump());
  }
  [[nodiscard]] std::string report_of(const std::string& name) const {
    return read_file(folder_.at(name) + "/report.json");
  }
  Folder folder_;
  int faults_ = 0;
  std::size_t replaced_ = 0;
};

TEST_F(ReportedProse, DecidesNoComparisonAndNoExitStatus) {
  const std::pair<const char*, std::int64_t> cases[] = {
      {"sound", 500},      {"line-leak", 500},       {"early-release", 500}, {"gap", 500},
      {"motor-open", 500}, {"not-enough-tested", 4}, {"pump-weak", 4}};
  for (const auto& [name, rate_hz] : cases) judged(name, rate_hz);
  EXPECT_GE(faults_, 3);
  EXPECT_GT(replaced_, 100U);
  std::size_t lines_compared = 0;
  for (const auto& [name, rate_hz] : cases) {
    const auto compared = [&, before = std::string(name)](const char* ending) {
      return run({"compare", folder_.at(before + ending), folder_.at(std::string("sound") + ending),
                  "--all"});
    };
    const Ran whole = compared(".json"), bare = compared(".bare.json");
    EXPECT_EQ(bare.status, whole.status);
    EXPECT_EQ(whole.status, 0) << whole.err;
    EXPECT_EQ(verdicts(bare.out), verdicts(whole.out)) << name;
    EXPECT_NE(bare.out, whole.out) << name;  // the prose was there, and is gone
    lines_compared += lines(verdicts(whole.out));
  }
  EXPECT_GT(lines_compared, 100U);
}

}  // namespace
}  // namespace airlatch
