// SPDX-License-Identifier: GPL-3.0-or-later
// The customer's page: what was wrong, what was done, what is proven now; one page.
#include <algorithm>

#include "plugin/report/capture_pictures.hpp"
#include "plugin/report/compose.hpp"
#include "plugin/report/finding_text.hpp"
#include "plugin/report/measure_words.hpp"
#include "plugin/report/states.hpp"
#include "plugin/verdict/rules.hpp"

namespace airlatch {
namespace {

constexpr double kCertain = 0.9;        // below it a finding is told as the likeliest
constexpr std::size_t kShortHash = 10;  // characters of a SHA-256

// What became of the steps, for a sentence.
struct StepCount {
  int all = 0, passed = 0, failed = 0, open = 0, not_done = 0;
};

StepCount count_steps(const Report& report) {
  StepCount count;
  for (const Report::StepResult& step : report.steps) {
    const bool undecided = step.outcome == Outcome::FAIL &&
                           std::none_of(step.limits.begin(), step.limits.end(), [](const auto& l) {
                             return l.verdict == Outcome::FAIL && !l.undecided;
                           });
    ++count.all;
    if (step.outcome == Outcome::PASS)
      ++count.passed;
    else if (step.outcome == Outcome::NOT_MEASURABLE || undecided)
      ++count.open;
    else if (step.outcome == Outcome::FAIL)
      ++count.failed;
    else
      ++count.not_done;
  }
  return count;
}

class Page {
 public:
  Page(const JobReport& test, const Language& language)
      : test_(test),
        report_(test.report),
        job_(test.report.job.value_or(Job{})),
        states_(states_of(test)),
        language_(language) {}

  Section section() {
    page_.label = say("For the customer");
    page_.language = language_.code();
    page_.one_page = true;
    head();
    verdict();
    what_was_done();
    proven();
    figures();
    picture();
    cautions();
    not_tested();
    identity();
    return std::move(page_);
  }

 private:
  [[nodiscard]] std::string say(std::string_view english, Language::Filling filling = {}) const {
    return language_.say(english, filling);
  }
  void put(Block block) { page_.blocks.push_back(std::move(block)); }

  void head() {
    if (!job_.garage.empty()) put(Paragraph{as_typed(job_.garage), Look::kSoft});
    put(Heading{1, say("Test of the air-operated door locks")});
    Facts facts;
    const auto add = [&](const std::string& name, const std::string& value) {
      if (!value.empty()) facts.rows.emplace_back(name, as_typed(value));
    };
    add(say("Vehicle"), job_.vehicle);
    add(say("Customer"), job_.customer);
    add(say("Job"), job_.job_number);
    if (!job_.date.empty()) facts.rows.emplace_back(say("Date"), Words(language_.date(job_.date)));
    add(say("Odometer"), job_.odometer);
    add(say("Technician"), job_.technician);
    const std::string times = times_of_day();
    if (!times.empty()) facts.rows.emplace_back(say("Recorded"), Words(times));
    if (!facts.rows.empty()) put(std::move(facts));
  }

  // "before 10:42, after 14:05": where the captures know it.
  [[nodiscard]] std::string times_of_day() const {
    std::string out;
    for (const Phase phase : {Phase::UNSPECIFIED, Phase::BEFORE, Phase::AFTER})
      for (const Report::Capture& capture : report_.captures) {
        if (capture.phase != phase || capture.started.size() < 16) continue;
        const std::string time = capture.started.substr(11, 5);
        if (!out.empty()) out += ", ";
        out += phase == Phase::BEFORE  ? say("before: {time}", {{"time", time}})
               : phase == Phase::AFTER ? say("after: {time}", {{"time", time}})
                                       : time;
        break;
      }
    return out;
  }

  [[nodiscard]] const Finding* now() const {
    return report_.findings.empty() ? nullptr : report_.findings.data();
  }
  [[nodiscard]] const Finding* before() const {
    return report_.before_findings.empty() ? nullptr : report_.before_findings.data();
  }

  [[nodiscard]] std::string sentence(const Finding& finding) const {
    const std::string text = say(text_of_finding(finding.code).found);
    if (finding.likelihood >= kCertain) return text;
    return say("Most likely: {finding}", {{"finding", text}});
  }

  void verdict() {
    if (!now()) return;
    Callout out;
    const StepCount steps = count_steps(report_);
    const bool was_wrong = before() && is_fault(before()->code);
    if (now()->code == "SOUND") {
      const bool all = steps.failed + steps.open + steps.not_done == 0;
      out.kind = all ? Callout::Kind::kGood : Callout::Kind::kOpen;
      out.title = was_wrong && all ? say("The fault is mended, and the test proves it.")
                  : all            ? say("No fault was found.")
                        : say("No fault was found, but not everything could be decided.");
    } else if (is_fault(now()->code)) {
      out.kind = Callout::Kind::kBad;
      out.title = states_.repaired || was_wrong ? say("There is still a fault.")
                                                : say("A fault was found.");
    } else {
      out.title = say("It cannot be said yet.");
    }
    out.lines.emplace_back(sentence(*now()));
    if (now()->code != "SOUND") {
      const std::string next = say(text_of_finding(now()->code).next);
      if (!next.empty()) out.lines.emplace_back(say("Next: {step}", {{"step", next}}));
    }
    for (const Report::LeakBudget& budget : report_.leak_budgets)
      if (!budget.leaking.empty()) {  // blown or sucked, it is the same hole
        out.lines.push_back(Words(say("The branch that leaks:") + " ") + as_typed(budget.leaking));
        break;
      }
    put(std::move(out));
  }

  // What the test found, and what the garage writes of complaint and repair.
  void what_was_done() {
    if (!before() && job_.remark.empty()) return;
    put(Heading{
        2, before() ? say("What was wrong, and what was done") : say("What the garage noted")});
    if (before()) {
      const std::string found = say(text_of_finding(before()->code).found);
      put(Paragraph{before()->likelihood >= kCertain
                        ? say("The test before the repair found: {finding}", {{"finding", found}})
                        : say("The test before the repair found, most likely: {finding}",
                              {{"finding", found}})});
    }
    Bullets out;
    for (const std::string& remark : job_.remark) out.items.push_back(as_typed(remark));
    if (!out.items.empty()) put(std::move(out));
  }

  void proven() {
    const StepCount steps = count_steps(report_);
    if (steps.all == 0) return;
    const bool sound = now() && now()->code == "SOUND";
    put(Heading{2, sound ? say("What is proven now") : say("What the test shows")});
    const std::string all = std::to_string(steps.all);
    std::string text = steps.passed == steps.all && steps.all > 1
                           ? say("All {all} steps of the test were passed.", {{"all", all}})
                           : say("Steps of the test that were passed: {passed} of {all}.",
                                 {{"passed", std::to_string(steps.passed)}, {"all", all}});
    const auto add = [&](int n, std::string_view english) {
      if (n > 0) text += " " + say(english, {{"n", std::to_string(n)}});
    };
    add(steps.failed, translatable("Not passed: {n}."));
    add(steps.open, translatable("Could not be decided: {n}."));
    add(steps.not_done, translatable("Not done: {n}."));
    if (before() && now() && now()->code == "SOUND" && is_fault(before()->code))
      text += " " + say("The same test found the fault before the repair, and finds none now.");
    put(Paragraph{text});
  }

  [[nodiscard]] std::string figure_name(const KeyFigure& figure) const {
    std::string name = customer_name(figure.measure, language_);
    if (figure.measure == "end_pressure" && figure.direction == Direction::VACUUM)
      return say("Vacuum that the pump reaches");
    if (figure.direction == Direction::PRESSURE) return say("{what}, blowing", {{"what", name}});
    if (figure.direction == Direction::VACUUM) return say("{what}, sucking", {{"what", name}});
    return name;
  }

  void add_bar(Gauge& gauge, const std::string& label, const Measure& measure, bool past) const {
    const bool leak = measure.name.starts_with("leak_") || measure.name == "decay_rate";
    const CustomerFigure shown = customer_figure(measure, leak, language_);
    gauge.bars.push_back({label, shown.text, shown.value, shown.u, past});
    gauge.high = std::max(gauge.high, shown.value);
  }

  // The limit in the figure's own direction: a vacuum is told by its depth.
  void add_limit(Gauge& gauge, const KeyFigure& figure, const Measure& like) const {
    const double factor = customer_factor(like);
    std::optional<double> least = figure.range.min, most = figure.range.max;
    if (factor < 0) std::swap(least, most);
    const auto text = [&](double limit) {
      return customer_number(limit, figure.measure, like.unit, language_);
    };
    if (least) gauge.min = *least * factor;
    if (most) gauge.max = *most * factor;
    if (least && most)
      gauge.limit =
          say("{least} to {most}", {{"least", text(*gauge.min)}, {"most", text(*gauge.max)}});
    else if (least)
      gauge.limit = say("at least {limit}", {{"limit", text(*gauge.min)}});
    else if (most)
      gauge.limit = say("at most {limit}", {{"limit", text(*gauge.max)}});
    for (const auto& limit : {gauge.min, gauge.max})
      if (limit) gauge.high = std::max(gauge.high, *limit);
  }

  void figures() {
    const std::vector<KeyFigure> all = key_figures(states_, report_.plan);
    if (all.empty()) return;
    put(Heading{2, states_.repaired && !states_.before.empty()
                       ? say("The figures that matter, before and after")
                       : say("The figures that matter")});
    Gauges out;
    for (const KeyFigure& figure : all) {
      Gauge gauge{.name = figure_name(figure), .high = 0};
      const Measure& like = figure.now ? *figure.now : *figure.before;
      if (figure.before) add_bar(gauge, say("before"), *figure.before, true);
      if (figure.now)
        add_bar(gauge, states_.repaired ? say("after") : say("measured"), *figure.now, false);
      add_limit(gauge, figure, like);
      gauge.high *= 1.12;
      if (!(gauge.high > 0)) gauge.high = 1;
      out.rows.push_back(std::move(gauge));
    }
    put(std::move(out));
    put(Paragraph{say("Shaded: what is allowed, up to the upright line. The thin line at the end "
                      "of a bar: how far the "
                      "figure is certain."),
                  Look::kSoft});
  }

  void picture() {
    if (test_.plots.size() != report_.captures.size()) return;
    const HoldPair pair = telling_hold(states_);
    std::vector<HeldState> states;
    if (pair.before)
      states.push_back({&test_.plots[*pair.before], pair.before_hold, say("before"), Ink::kBefore});
    if (pair.now)
      states.push_back({&test_.plots[*pair.now], pair.now_hold,
                        states_.repaired ? say("after") : say("measured"), Ink::kAfter});
    Figure figure{.picture = pressure_held(states, language_), .gives_way = true};
    if (figure.picture.empty()) return;
    figure.caption =
        say("Pressure in the air line: the pump runs, stops, and the line is left alone. A tight "
            "line keeps its pressure.");
    put(std::move(figure));
  }

  void cautions() {
    if (report_.cautions.empty()) return;
    Callout out{.kind = Callout::Kind::kCaution, .title = say("Please note"), .bullets = true};
    for (const std::string& caution : report_.cautions) out.lines.emplace_back(say(caution));
    put(std::move(out));
  }

  void not_tested() {
    const std::string parts = untested_parts(report_.untested, language_);
    std::string text;
    if (!parts.empty())
      text = say("Not tested: {parts}.", {{"parts", parts}}) + " ";
    else if (count_steps(report_).not_done > 0)
      text = say("Not tested: the steps that were not done.") + " ";
    put(Paragraph{text +
                  say("These results are about this vehicle, as it was when it was tested.")});
  }

  void identity() {
    Words out = say("Recorded files:");
    for (const Report::Capture& capture : report_.captures)
      out += Words(" ") + as_typed(capture.file) +
             Words(capture.sha256.empty() ? ";" : " " + capture.sha256.substr(0, kShortHash) + ";");
    out += Words(" " +
                 say("tested with airlatch {version}.", {{"version", report_.software_version}}));
    put(Paragraph{std::move(out), Look::kSoft});
  }

  const JobReport& test_;
  const Report& report_;
  const Job job_;
  const States states_;
  const Language& language_;
  Section page_;
};

}  // namespace

Section customer_page(const JobReport& test, const Language& language) {
  return Page(test, language).section();
}

}  // namespace airlatch
