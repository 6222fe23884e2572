// SPDX-License-Identifier: GPL-3.0-or-later
// The report as A4 pages: the verdict and the steps first, then a picture a page half.
#include <fmt/format.h>

#include <algorithm>
#include <sstream>

#include "plugin/report/job_report.hpp"
#include "plugin/report/overlay.hpp"
#include "plugin/report/words.hpp"
#include "plugin/session/quantity.hpp"
#include "plugin/system/shown_text.hpp"
#include "plugin/verdict/compare.hpp"
#include "plugin/verdict/rules.hpp"

namespace airlatch {
namespace {

constexpr double kWidth = 595, kHeight = 842, kMargin = 48;

class Page {
 public:
  explicit Page(Canvas& canvas) : canvas_(canvas) {}
  void line(const std::string& text, double size = 9.5, bool bold = false, double indent = 0) {
    lazy::cairo_set_source_rgb(canvas_.cairo(), 0.11, 0.14, 0.16);
    std::istringstream words(shown_lines(text));
    std::string word, row;
    const auto flush = [&] {
      need(size * 1.4);
      canvas_.text(kMargin + indent, y_ += size * 1.4, row, size, 0, bold);
      row.clear();
    };
    while (words >> word) {
      if (!row.empty() &&
          width(fmt::format("{} {}", row, word), size, bold) > kWidth - 2 * kMargin - indent)
        flush();
      // A word longer than a line is broken where the line ends.
      while (width(word, size, bold) > kWidth - 2 * kMargin - indent && word.size() > 8) {
        const auto whole_letters = [&](std::size_t at) {
          while (at < word.size() && (word[at] & 0xc0) == 0x80) ++at;
          return at;
        };
        std::size_t cut = whole_letters(word.size() / 2);
        while (cut > 12 && width(word.substr(0, cut), size, bold) > kWidth - 2 * kMargin - indent)
          cut = whole_letters(cut * 3 / 4);
        row = word.substr(0, cut);
        flush();
        word.erase(0, cut);
      }
      row += (row.empty() ? "" : " ") + word;
    }
    if (!row.empty()) flush();
  }
  void gap(double height) { y_ += height; }
  // `draw(x, y, width, height)`; never cut by a page's end.
  void picture(double height, const auto& draw) {
    need(height);
    draw(kMargin, y_, kWidth - 2 * kMargin, height);
    y_ += height;
  }

 private:
  double width(const std::string& text, double size, bool bold) const {
    lazy::cairo_select_font_face(canvas_.cairo(), "DejaVu Sans", CAIRO_FONT_SLANT_NORMAL,
                                 bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
    lazy::cairo_set_font_size(canvas_.cairo(), size);
    cairo_text_extents_t extents;
    lazy::cairo_text_extents(canvas_.cairo(), shown_text(text).c_str(), &extents);
    return extents.x_advance;
  }
  void need(double height) {
    if (y_ + height <= kHeight - kMargin) return;
    canvas_.next_page();
    y_ = kMargin;
  }
  Canvas& canvas_;
  double y_ = kMargin;
};

std::string quantity(const Measure& m) { return format_quantity(m.value, m.u, m.unit); }

void put_title(Page& page, const Job& job) {
  page.line("Air lock test report", 18, true);
  page.line("Vehicle: " + (job.vehicle.empty() ? "not named" : job.vehicle), 11);
  if (!job.job_number.empty()) page.line("Job: " + job.job_number, 11);
}

void put_verdict(Page& page, const Report& report) {
  if (report.findings.empty()) return;
  const Finding& first = report.findings[0];
  page.line(report.before_findings.empty() ? "Most likely:" : "After the repair, most likely:");
  page.line(first.title, 14, true);
  page.line(fmt::format("{}, likelihood {:.2f}", first.code, first.likelihood));
  page.line("Do next: " + first.next_step, 10.5);
}

void put_cautions(Page& page, const JobReport& test) {
  page.line("Cautions", 11, true);
  for (const std::string& caution : test.report.cautions) page.line("• " + caution, 9.5, false, 8);
  for (const std::string& damage : test.damages) page.line("Cut short: " + damage);
}

void put_findings(Page& page, const Report& report) {
  page.line("Findings", 11, true);
  for (const Finding& finding : report.findings) {
    page.line(fmt::format("{:.2f}  {} ({})", finding.likelihood, finding.title,
                          finding.code));
    for (const std::string& because : finding.evidence) page.line(because, 8.5, false, 16);
  }
}

void put_steps(Page& page, const Report& report) {
  if (report.steps.empty()) return;
  page.gap(8);
  page.line("Steps of " + report.plan.name, 11, true);
  for (const Report::StepResult& step : report.steps) {
    page.line(step.id + ": " + outcome_words(step.outcome), 9.5, true);
    for (const Report::LimitResult& limit : step.limits)
      page.line(limit_words(limit), 8.5, false, 16);
    if (!step.note.empty()) page.line(step.note, 8.5, false, 16);
  }
}

void put_budget(Page& page, const Report::LeakBudget& budget) {
  page.gap(8);
  page.line("Branches", 11, true);
  page.line(budget.conclusion, 9.5, true);
  for (const auto& branch : budget.branches)
    page.line(branch.name + ": " + quantity(branch.loss), 8.5, false, 16);
  if (budget.rest.has_value())
    page.line("pump, trunk and what was not closed: " + quantity(*budget.rest), 8.5, false, 16);
}

void put_contacts(Page& page, const Report& report) {
  if (!report.contact_finding.has_value()) return;
  page.gap(8);
  page.line("Contacts", 11, true);
  for (const std::string& line : contact_words(*report.contact_finding)) page.line(line, 9);
}

void put_changes(Page& page, Canvas& canvas, const JobReport& test) {
  const Report& report = test.report;
  if (report.changes.empty()) return;
  page.gap(8);
  page.line("Before against after", 11, true);
  for (const std::string& remark : report.remarks) page.line(remark);
  for (const Report::Change& change : report.changes)
    if (change.verdict != kNoRealChange)
      page.line(change.event + ": " + change_words(change), 8.5, false, 16);
  const auto both = first_of_each(test);
  if (!both.first || !both.second || !can_overlay(*both.first, *both.second)) return;
  page.gap(8);
  page.picture(280, [&](double x, double y, double width, double height) {
    draw_overlay(canvas, *both.first, *both.second, x, y, width, height);
  });
}

void put_captures(Page& page, Canvas& canvas, const JobReport& test) {
  for (std::size_t k = 0; k < test.plots.size(); ++k) {
    const Report::Capture& capture = test.report.captures[static_cast<int>(k)];
    page.gap(10);
    page.picture(330, [&](double x, double y, double width, double height) {
      test.plots[k].draw(canvas, x, y, width, height);
    });
    page.line(capture.file + ", SHA-256 " + capture.sha256, 8);
  }
}

}  // namespace

std::string report_pdf(const JobReport& test) {
  const Report& report = test.report;
  Canvas canvas(Canvas::Kind::kPdf, kWidth, kHeight);
  Page page(canvas);
  put_title(page, report.job.value_or(Job{}));
  page.gap(8);
  put_verdict(page, report);
  page.gap(8);
  put_cautions(page, test);
  page.gap(8);
  put_findings(page, report);
  put_steps(page, report);
  for (const Report::LeakBudget& budget : report.leak_budgets) put_budget(page, budget);
  put_contacts(page, report);
  put_changes(page, canvas, test);
  put_captures(page, canvas, test);
  page.gap(8);
  page.line(
      "Every ± is a standard uncertainty (JCGM 100, k = 1). The limits are those of the plan; the "
      "built-in ones are common practice, no source. airlatch " +
          report.software_version,
      8);
  return canvas.finish();
}

}  // namespace airlatch
