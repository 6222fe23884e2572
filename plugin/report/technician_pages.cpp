// SPDX-License-Identifier: GPL-3.0-or-later
// The technician's pages: the verdict and what it rests on, steps, branches, contacts, changes, pictures.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "plugin/report/capture_pictures.hpp"
#include "plugin/report/compose.hpp"
#include "plugin/report/measure_words.hpp"
#include "plugin/report/states.hpp"
#include "plugin/report/words.hpp"
#include "plugin/session/kinds.hpp"
#include "plugin/session/quantity.hpp"
#include "plugin/verdict/compare.hpp"
#include "plugin/verdict/rules.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kMostCited = 8;  // of a finding; report.json has all

Words new_line() { return "\n"; }

std::string time_words(const Event& event) {
  return format_value(event.time_s, std::max(event.time_u_s, 5e-4)) + " s";
}

const char* short_words(Kind kind) {
  const char* const mark = row_of(kind).mark;
  if (mark) return mark;
  if (kind == Kind::LEAK_DECAY) return "line left alone";
  if (kind == Kind::FEED_ON) return "feed on";
  return kind == Kind::FEED_OFF ? "feed off" : "event";
}

// "5.400 s in line-leak.sr (before): line left alone, blowing, leak share 0.0149 ± 0.0001".
Words basis_words(const Report& report, const Finding::Basis& basis) {
  const Event& event = basis.event;
  std::string what = short_words(event.kind);
  if (event.contact != Contact::NONE) what += std::string(", ") + contact_words(event.contact);
  if (event.direction != Direction::UNKNOWN)
    what += std::string(", ") + direction_words(event.direction);
  for (const Measure& measure : event.measures) what += ", " + measure_words(measure);
  return Words(time_words(event) + " in ") + capture_name(report, basis.capture) + ": " + what;
}

// In the order of captures and time; as it was written where a report has no more.
Words why(const Report& report, const Finding& finding) {
  Words out;
  const auto add = [&](const Words& line) {
    if (!out.empty()) out += new_line();
    out += line;
  };
  std::vector<Finding::Basis> all = finding.basis;
  std::stable_sort(all.begin(), all.end(), [](const auto& a, const auto& b) {
    return std::pair(a.capture, a.event.time_s) < std::pair(b.capture, b.event.time_s);
  });
  for (std::size_t k = 0; k < std::min(all.size(), kMostCited); ++k)
    add(basis_words(report, all[k]));
  if (all.size() > kMostCited) add(fmt::format("and {} more", all.size() - kMostCited));
  // Beyond the events: that there were more, what the budget says.
  const std::size_t told = all.size();
  std::size_t k = 0;
  for (const std::string& evidence : finding.evidence) {
    const bool event =
        k++ < told && !evidence.starts_with("leak budget") && !evidence.starts_with("and ");
    if (!event) add(evidence);
  }
  if (out.empty()) out = "by what was not seen";
  return out;
}

Table findings_table(const Report& report, const std::vector<Finding>& findings,
                     const char* caption) {
  Table table{.caption = caption,
              .columns = {{"Finding", 2.2}, {"Likelihood", 1.1, true}, {"Because", 4}}};
  for (const Finding& finding : findings)
    table.rows.push_back({strong(finding.title) + new_line() + Words(finding.code),
                          fmt::format("{:.2f}", finding.likelihood), why(report, finding)});
  return table;
}

class Pages {
 public:
  explicit Pages(const JobReport& test) : test_(test), report_(test.report) {}

  Section section() {
    out_.label = "For the technician";
    put(Heading{1, "For the technician"});
    verdict();
    steps();
    budgets();
    contacts();
    changes();
    laid_over();
    captures();
    return std::move(out_);
  }

 private:
  void put(Block block) { out_.blocks.push_back(std::move(block)); }

  void verdict() {
    put(Heading{2, "Verdict"});
    if (!report_.findings.empty()) {
      const Finding& first = report_.findings[0];
      Callout callout{.kind = first.code == "SOUND"  ? Callout::Kind::kGood
                              : is_fault(first.code) ? Callout::Kind::kBad
                                                     : Callout::Kind::kOpen,
                      .title = first.title};
      callout.lines.emplace_back(fmt::format("{}, likelihood {:.2f}. Do next: {}", first.code,
                                             first.likelihood, first.next_step));
      put(std::move(callout));
      put(findings_table(
          report_, report_.findings,
          report_.before_findings.empty() ? "Findings" : "Findings after the repair"));
    }
    if (!report_.before_findings.empty())
      put(findings_table(report_, report_.before_findings, "Findings before the repair"));
    if (const std::string text = untested_words(report_.untested); !text.empty())
      put(Paragraph{text});
    for (const std::string& damage : test_.damages) put(Paragraph{"Cut short: " + damage});
  }

  [[nodiscard]] Words step_title(const std::string& id) const {
    for (const Plan::Step& step : report_.plan.step)
      if (step.id == id && !step.title.empty()) return as_typed(step.title);
    return as_typed(id);
  }

  // How far inside its nearer limit a value is; below zero: outside.
  static std::string margin(const Report::LimitResult& limit) {
    if (!limit.value) return "";
    const double value = limit.value->value;
    double room = 1e300, of = 0;
    for (const auto& [edge, sign] :
         {std::pair(limit.limit.max, 1.0), std::pair(limit.limit.min, -1.0)})
      if (edge && sign * (*edge - value) < room) {
        room = sign * (*edge - value);
        of = *edge;
      }
    const std::string share = std::abs(room) <= 2 * std::abs(of) && of != 0
                                  ? fmt::format(" ({:.0f} %)", 100 * room / std::abs(of))
                                  : std::string();
    return fmt::format("{:.3g}", room) + share;
  }

  static std::string limit_text(const Plan::Limit& limit) {
    if (limit.min && limit.max) return fmt::format("{:g} to {:g}", *limit.min, *limit.max);
    if (limit.min) return fmt::format("at least {:g}", *limit.min);
    return limit.max ? fmt::format("at most {:g}", *limit.max) : "";
  }

  void steps() {
    if (report_.steps.empty()) return;
    put(Heading{2, "Steps and their limits"});
    put(Paragraph{Words("Plan: ") + as_typed(report_.plan.name) +
                      ". A margin below zero is beyond the limit; a value within two standard "
                      "uncertainties of it is too close to call, which is no pass.",
                  Look::kSoft});
    Table table{.caption = "Steps",
                .columns = {{"Step", 1.8},
                            {"Measure", 1.5},
                            {"Value", 2.3, true},
                            {"Limit", 1.2, true},
                            {"Margin", 1.5, true},
                            {"Outcome", 1.1}}};
    for (const Report::StepResult& step : report_.steps) {
      if (step.limits.empty())
        table.rows.push_back(
            {step_title(step.id), step.note, "", "", "", strong(outcome_words(step.outcome))});
      for (const Report::LimitResult& limit : step.limits) {
        const Measure value = limit.value.value_or(Measure{});
        Words outcome =
            strong(limit.undecided ? "too close to call" : outcome_words(limit.verdict));
        if (!limit.note.empty() && !limit.undecided) outcome += new_line() + Words(limit.note);
        table.rows.push_back({step_title(step.id), measure_name(limit.limit.measure),
                              limit.value ? format_quantity(value.value, value.u,
                                                            value.unit == "1" ? "" : value.unit)
                                          : "",
                              limit_text(limit.limit), margin(limit), std::move(outcome)});
      }
    }
    put(std::move(table));
  }

  static void add_part(Gauge& gauge, const std::string& label, const Measure& loss, double whole) {
    std::string text = format_quantity(loss.value, loss.u, loss.unit);
    if (whole != 0) text += fmt::format(" ({:.0f} %)", 100 * loss.value / whole);
    gauge.bars.push_back({label, text, loss.value, loss.u, false});
    gauge.low = std::min(gauge.low, loss.value - 2 * loss.u);
    gauge.high = std::max(gauge.high, loss.value + 2 * loss.u);
  }

  void budgets() {
    if (report_.leak_budgets.empty()) return;
    put(Heading{2, "Branches"});
    const Limits limits = limits_of(report_.plan);
    for (const Report::LeakBudget& budget : report_.leak_budgets) {
      put(Paragraph{Words(std::string("Held after ") + direction_words(budget.direction) + ": ") +
                        as_typed(budget.conclusion),
                    Look::kLead});
      if (!budget.whole) continue;
      Gauge gauge{
          .name = fmt::format("What each part loses, {} (lines: two standard uncertainties)",
                              direction_words(budget.direction)),
          .high = 0};
      const double whole = budget.whole->value;
      add_part(gauge, "whole line", *budget.whole, 0);
      for (const auto& branch : budget.branches) add_part(gauge, branch.name, branch.loss, whole);
      if (budget.rest) add_part(gauge, "no branch explains", *budget.rest, whole);
      gauge.max = limits.of(Kind::LEAK_DECAY, budget.direction, "decay_rate").max;
      if (gauge.max) {
        gauge.limit = fmt::format("at most {:g} kPa/min", *gauge.max);
        gauge.high = std::max(gauge.high, *gauge.max);
      }
      gauge.high *= 1.05;
      put(Gauges{{std::move(gauge)}});
    }
  }

  void contacts() {
    if (!report_.contact_finding) return;
    const auto& found = *report_.contact_finding;
    put(Heading{2, "Contacts"});
    Table table{.caption = "Which contact is which",
                .columns = {{"Contact", 2},
                            {"Use", 1.5},
                            {"Ground", 1, true},
                            {"Blows", 1, true},
                            {"Sucks", 1, true}}};
    for (const auto& contact : found.contacts)
      table.rows.push_back(
          {as_typed(contact.name), strong(contact.use), fmt::format("{:.2f}", contact.ground),
           fmt::format("{:.2f}", contact.blows), fmt::format("{:.2f}", contact.sucks)});
    if (!table.rows.empty()) put(std::move(table));
    Bullets trials;
    for (const std::string& trial : found.trials)
      trials.items.push_back(Words("tried ") + as_typed(trial));
    if (!found.next_trial.empty())
      trials.items.push_back(strong("Try next: ") + as_typed(found.next_trial));
    if (!trials.items.empty()) put(std::move(trials));
  }

  // Those that a limit makes a claim of come first.
  static int order_of(const Report::Change& change) {
    if (change.verdict == kWorse) return 0;
    if (change.verdict == kImproved) return 1;
    if (change.verdict == kNotComparable) return 3;
    return change.verdict == kNoRealChange ? 4 : 2;
  }

  // "run time, s".
  static std::string with_unit(const Report::Change& change) {
    const std::optional<Measure>& one = change.before ? change.before : change.after;
    const bool counted = !one || one->unit.empty() || one->unit == "1";
    return measure_name(change.measure) + (counted ? "" : ", " + one->unit);
  }

  void changes() {
    if (report_.changes.empty() && report_.remarks.empty()) return;
    put(Heading{2, "Before against after"});
    for (const std::string& remark : report_.remarks) put(Paragraph{remark});
    std::vector<Report::Change> all = report_.changes;
    std::stable_sort(all.begin(), all.end(),
                     [](const auto& a, const auto& b) { return order_of(a) < order_of(b); });
    const auto same =
        std::count_if(all.begin(), all.end(), [](const auto& c) { return order_of(c) == 4; });
    Table table{.caption = "Changes",
                .columns = {{"Event", 1.4},
                            {"Measure", 1.6},
                            {"Before", 1.5, true},
                            {"After", 1.5, true},
                            {"Change", 1.5, true},
                            {"Verdict", 1.5}}};
    const auto quantity = [](const std::optional<Measure>& m) {
      return m ? format_quantity(m->value, m->u, "") : std::string("–");
    };
    for (const Report::Change& change : all) {
      if (order_of(change) == 4) continue;
      const bool compared = change.before && change.after && change.verdict != kNotComparable;
      Words verdict = strong(change.verdict);
      if (!change.reason.empty()) verdict += new_line() + Words(change.reason);
      table.rows.push_back(
          {change.event, with_unit(change), quantity(change.before), quantity(change.after),
           compared ? format_quantity(change.change, change.u, "") : "", std::move(verdict)});
    }
    if (!table.rows.empty()) put(std::move(table));
    put(Paragraph{
        fmt::format("No real change in {} measures: they are among the events in the appendix.",
                    same),
        Look::kSoft});
  }

  void laid_over() {
    const auto [before, after] = first_of_each(test_);
    if (!before || !after) return;
    const std::vector<Overlay> all = overlays(*before, *after);
    if (all.empty()) return;
    put(Heading{2, "One laid over the other"});
    for (const Overlay& one : all) {
      const std::string way = direction_words(one.direction);
      put(Figure{one.whole, Words("Run and hold, " + way + ".")});
      if (!one.nearer.empty()) put(Figure{one.nearer, Words("The run nearer, " + way + ".")});
    }
  }

  void captures() {
    if (test_.plots.size() != report_.captures.size() || test_.plots.empty()) return;
    put(Heading{2, "Captures"});
    for (std::size_t k = 0; k < test_.plots.size(); ++k) {
      const CapturePlot& plot = test_.plots[k];
      put(Heading{3, capture_name(report_, k)});
      const Picture whole = whole_capture(plot);
      if (whole.empty()) continue;
      put(Figure{whole, Words("The whole capture. Numbers: the events below.")});
      for (const Nearer& nearer : runs_nearer(plot))
        put(Figure{nearer.picture,
                   fmt::format("Nearer: {:.3g} to {:.3g} s.", nearer.from_s, nearer.to_s)});
      events(plot);
    }
  }

  void events(const CapturePlot& plot) {
    Table table{.caption = "Events",
                .columns = {{"No.", 0.4, true}, {"Time", 0.9, true}, {"What happened", 6}}};
    for (const Event& event : listed_events(plot))
      table.rows.push_back(
          {std::to_string(table.rows.size() + 1), time_words(event), event_words(event)});
    if (!table.rows.empty()) put(std::move(table));
    if (plot.events.size() > kMostListed)
      put(Paragraph{fmt::format("The first {} of {} events; all are in report.json.", kMostListed,
                                plot.events.size()),
                    Look::kSoft});
  }

  const JobReport& test_;
  const Report& report_;
  Section out_;
};

}  // namespace

Section technician_pages(const JobReport& test) { return Pages(test).section(); }

}  // namespace airlatch
