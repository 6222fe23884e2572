// SPDX-License-Identifier: GPL-3.0-or-later
// The customer's page, and what the other pages show of the same job.
#include <gtest/gtest.h>

#include <cmath>
#include <regex>
#include <set>

#include "plugin/message/plans.hpp"
#include "plugin/rehearse/rehearsal.hpp"
#include "plugin/rehearse/write.hpp"
#include "plugin/report/capture_pictures.hpp"
#include "plugin/report/compose.hpp"
#include "plugin/report/measure_words.hpp"
#include "plugin/report/states.hpp"
#include "tests/support/files.hpp"

namespace airlatch {
namespace {
using namespace test;

// What a section says, but for what users typed and what is none of its words: figures, units.
class Said {
 public:
  explicit Said(const Section& section) {
    for (const Block& block : section.blocks)
      std::visit([&](const auto& one) { take(one); }, block);
    take(section.label);
  }
  std::vector<std::string> texts;

 private:
  void take(const std::string& text) { texts.push_back(text); }
  void take(const Words& words) {
    for (const Piece& piece : words.pieces)
      if (!piece.typed) take(piece.text);
  }
  void take(const Heading& block) { take(block.words); }
  void take(const Paragraph& block) { take(block.words); }
  void take(const Bullets& block) {
    for (const Words& item : block.items) take(item);
  }
  void take(const Facts& block) {
    for (const auto& [name, value] : block.rows) take(name), take(value);
  }
  void take(const Callout& block) {
    take(block.title);
    for (const Words& line : block.lines) take(line);
  }
  void take(const Table& block) {
    take(block.caption);
    for (const auto& row : block.rows)
      for (const Words& cell : row) take(cell);
  }
  void take(const Verbatim& block) { take(block.text); }
  void take(const Gauges& block) {
    for (const Gauge& gauge : block.rows) {
      take(gauge.name), take(gauge.limit);
      for (const Gauge::Bar& bar : gauge.bars) take(bar.label), take(bar.text);
    }
  }
  void take(const Figure& block) {
    take(block.caption), take(block.picture.alt), take(block.picture.x_label);
    for (const PicturePanel& panel : block.picture.panels) {
      take(panel.label);
      for (const Curve& curve : panel.curves) take(curve.name);
      for (const Drop& drop : panel.drops) take(drop.text);
    }
  }
};

class CustomerPageTest : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    folder = new Folder;
    for (const char* fault : {"line-leak", "sound", "not-enough-tested", "pump-weak"}) {
      const Rehearsal r = rehearse({.fault = fault, .rate_hz = 1000, .seed = 71, .hold_s = 10});
      write_session(folder->at(std::string(fault) + ".sr"), r);
      write_rig(folder->at(std::string(fault) + ".rig"), r);
    }
  }
  static void TearDownTestSuite() { delete folder; }
  static JobReport make(const std::vector<std::pair<std::string, Phase>>& captures) {
    Job job;
    job.garage = "SALTMARSH_GARAGE";  // typed: whatever it is
    job.vehicle = "Merganser estate, 1984";
    job.customer = "A. Wren";
    job.date = "2026-03-14";
    job.odometer = "182 340 km";
    job.remark = {"The hose end was torn."};
    for (const auto& [name, phase] : captures) {
      auto& capture = job.capture.emplace_back();
      capture.file = name + ".sr";
      capture.rig = name + ".rig";
      capture.phase = phase;
    }
    return make_report(job, folder->at(""), {}, find_plan("bench-pump"), {});
  }
  static std::vector<JobReport> jobs() {
    std::vector<JobReport> out;
    out.push_back(make({{"line-leak", Phase::BEFORE}, {"sound", Phase::AFTER}}));
    out.push_back(make({{"sound", Phase::BEFORE}, {"line-leak", Phase::AFTER}}));
    out.push_back(make({{"not-enough-tested", Phase::UNSPECIFIED}}));
    out.push_back(make({{"pump-weak", Phase::UNSPECIFIED}}));
    return out;
  }
  static Folder* folder;
};
Folder* CustomerPageTest::folder = nullptr;

// A language in which each message is ⟦⟧: what is left outside has not been translated.
TEST_F(CustomerPageTest, HasNoUntranslatedWord) {
  std::vector<std::string> keep;
  const Language blank("xx", '.', [&](std::string_view english) -> std::string_view {
    // What is filled in stays, so that it is looked at, too.
    std::string text = "⟦";
    for (std::size_t at = 0; (at = english.find('{', at)) != std::string_view::npos; ++at)
      text += " " + std::string(english.substr(at, english.find('}', at) - at + 1)) + " ";
    return keep.emplace_back(text + "⟧");
  });
  keep.reserve(10'000);
  static const std::regex word("[A-Za-z]{2,}"), unit("\\b(kPa|min|Ω|rev|mm|cm)\\b"),
      hash("\\b[0-9a-f]{10}\\b"), number("\\b[0-9.]+\\b");
  for (const JobReport& test : jobs())
    for (const std::string& text : Said(customer_page(test, blank)).texts) {
      const std::string left = std::regex_replace(std::regex_replace(text, hash, ""), unit, "");
      EXPECT_FALSE(std::regex_search(left, word)) << text;
    }
}

TEST_F(CustomerPageTest, HasNoCodeAndNoDigitThatIsNotSure) {
  static const std::regex code("[A-Z]+_[A-Z_]+"),
      digits("[0-9][.,]?[0-9]?[.,]?[0-9]?[.,]?[0-9]*[.,][0-9]{5,}");
  for (const JobReport& test : jobs())
    for (const std::string& text : Said(customer_page(test, Language())).texts) {
      EXPECT_FALSE(std::regex_search(text, code)) << text;
      EXPECT_FALSE(std::regex_search(text, digits)) << text;
      EXPECT_EQ(text.find("±"), std::string::npos) << text;
    }
}

bool says(const Section& section, const std::string& what) {
  for (const std::string& text : Said(section).texts)
    if (text.find(what) != std::string::npos) return true;
  return false;
}

TEST_F(CustomerPageTest, SaysWhatIsProven) {
  const std::vector<JobReport> all = jobs();
  const Language english;
  EXPECT_TRUE(says(customer_page(all[0], english), "The fault is mended, and the test proves it."));
  EXPECT_TRUE(says(customer_page(all[0], english), "All 4 steps of the test were passed."));
  EXPECT_TRUE(says(customer_page(all[0], english), "The air line of the door locks leaks."));
  EXPECT_TRUE(says(customer_page(all[1], english), "There is still a fault."));
  EXPECT_FALSE(says(customer_page(all[1], english), "mended, and"));
  EXPECT_TRUE(says(customer_page(all[2], english), "It cannot be said yet."));
  EXPECT_TRUE(says(customer_page(all[3], english), "A fault was found."));
}

// Before beside after, with the limit; what failed comes first.
TEST_F(CustomerPageTest, ShowsTheFiguresThatTellTheStatesApart) {
  const JobReport test = make({{"line-leak", Phase::BEFORE}, {"sound", Phase::AFTER}});
  const std::vector<KeyFigure> figures = key_figures(states_of(test), test.report.plan);
  ASSERT_GE(figures.size(), 3U);
  EXPECT_LE(figures.size(), kMostFigures);
  const KeyFigure& first = figures[0];
  EXPECT_TRUE(first.measure.starts_with("leak_") || first.measure == "decay_rate") << first.measure;
  for (const KeyFigure& figure : figures) {
    EXPECT_TRUE(figure.before && figure.now) << figure.measure;
    EXPECT_TRUE(figure.range.min || figure.range.max) << figure.measure;
  }
  EXPECT_EQ(within(first.range, *first.before), Within::kNo);
  EXPECT_EQ(within(first.range, *first.now), Within::kYes);
}

// A measure without a row would stand on the customer's page under its code's words.
TEST_F(CustomerPageTest, EveryMeasureIsDefined) {
  std::set<std::string> defined;
  for (const MeasureRow& row : measure_rows()) defined.insert(row.name);
  for (const JobReport& test : jobs())
    for (const Event& event : test.report.events)
      for (const Measure& measure : event.measures)
        EXPECT_TRUE(defined.contains(measure.name)) << measure.name;
}

// A peak is drawn as high as it is in the table.
TEST_F(CustomerPageTest, OverlaysKeepTheInrushPeak) {
  const JobReport test = make({{"line-leak", Phase::BEFORE}, {"sound", Phase::AFTER}});
  const auto [before, after] = first_of_each(test);
  ASSERT_TRUE(before && after);
  const std::vector<Overlay> all = overlays(*before, *after);
  ASSERT_EQ(all.size(), 2U);
  for (const Overlay& one : all)
    for (const auto& [plot, ink] :
         {std::pair(before, Ink::kBefore), std::pair(after, Ink::kAfter)}) {
      const Measure* peak = nullptr;
      for (const Event& event : plot->events)
        if (event.kind == Kind::MOTOR_START && event.direction == one.direction)
          peak = find_measure(event, "inrush_peak");
      ASSERT_TRUE(peak);
      for (const Picture* picture : {&one.whole, &one.nearer}) {
        if (picture->empty()) continue;
        const auto drawn = highest(*picture, "current, A", ink);
        ASSERT_TRUE(drawn);
        EXPECT_NEAR(*drawn, peak->value, 0.03 * peak->value + 3 * peak->u);
      }
    }
}

// Each part of the evidence says from which capture it is, in the order of time.
TEST_F(CustomerPageTest, FindingsNameTheirCaptures) {
  const JobReport test = make({{"line-leak", Phase::BEFORE}, {"sound", Phase::AFTER}});
  for (const auto* findings : {&test.report.findings, &test.report.before_findings})
    for (const Finding& finding : *findings) {
      EXPECT_LE(finding.basis.size(), finding.evidence.size());
      for (const Finding::Basis& basis : finding.basis) {
        ASSERT_LT(basis.capture, test.report.captures.size());
        const bool after = test.report.captures[basis.capture].phase == Phase::AFTER;
        EXPECT_EQ(after, findings == &test.report.findings);
        EXPECT_LE(basis.event.measures.size(), 1U);
      }
    }
  EXPECT_TRUE(says(technician_pages(test), " (before)"));
}

TEST_F(CustomerPageTest, TheAppendixHoldsRigsHashesAndWhatIsNotRecorded) {
  const JobReport test = make({{"line-leak", Phase::BEFORE}, {"sound", Phase::AFTER}});
  const Section pages = appendix(test);
  for (const Report::Capture& capture : test.report.captures)
    EXPECT_TRUE(says(pages, capture.sha256));
  EXPECT_TRUE(says(pages, "commutator_segments"));
  EXPECT_TRUE(says(pages, "Not recorded in the job: Job, Technician."));
  EXPECT_TRUE(says(pages, "guard band"));
  EXPECT_TRUE(says(pages, "needs 5000 samples a second"));
}

}  // namespace
}  // namespace airlatch
