#include "plugin/report/test_report.hpp"

#include <google/protobuf/util/json_util.h>
#include <gtest/gtest.h>

#include "plugin/rehearse/rehearsal.hpp"
#include "plugin/rehearse/write.hpp"
#include "plugin/session/plans.hpp"
#include "plugin/session/setup_file.hpp"
#include "tests/support/files.hpp"

namespace airlatch {
namespace {
using namespace test;

class TestReportTest : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    folder = new Folder;
    for (const char* fault : {"line-leak", "sound"}) {
      const Rehearsal r = rehearse({.fault = fault, .rate_hz = 1000, .seed = 51, .hold_s = 10});
      write_session(folder->at(std::string(fault) + ".sr"), r);
      write_rig(folder->at(std::string(fault) + ".rig"), r);
    }
  }
  static void TearDownTestSuite() { delete folder; }
  static TestReport make(const std::string& vehicle, const ReportListener& listener = {}) {
    v1::Job job;
    job.set_vehicle(vehicle);
    for (const auto& [name, phase] :
         {std::pair("line-leak", v1::BEFORE), std::pair("sound", v1::AFTER)}) {
      auto& capture = *job.add_capture();
      capture.set_file(std::string(name) + ".sr");
      capture.set_rig(std::string(name) + ".rig");
      capture.set_phase(phase);
      capture.set_closed_branch(vehicle);
    }
    return make_report(job, folder->at(""), {}, find_plan("bench-pump"), {}, listener);
  }
  static Folder* folder;
};
Folder* TestReportTest::folder = nullptr;

TEST_F(TestReportTest, BeforeAndAfter) {
  const TestReport test = make("Merganser estate, 1984");
  EXPECT_EQ(test.report.findings(0).code(), "SOUND");
  ASSERT_FALSE(test.report.before_findings().empty());
  EXPECT_EQ(test.report.before_findings(0).code(), "LINE_LEAK");
  ASSERT_EQ(test.report.steps_size(), 4);
  for (const auto& step : test.report.steps())
    EXPECT_EQ(step.outcome(), v1::Report::PASS) << step.id();
  EXPECT_EQ(test.report.runs_size(), 4);
  EXPECT_EQ(test.report.decays_size(), 4);
  EXPECT_EQ(test.report.captures(0).sha256().size(), 64U);
}

// Captures are decoded side by side, or one after the other where somebody listens.
TEST_F(TestReportTest, SideBySideIsTheSameAsOneAfterTheOther) {
  std::vector<std::string> heard;
  ReportListener listener;
  listener.on_event = [&](const v1::Event& event) { heard.push_back(event.SerializeAsString()); };
  const TestReport one = make("left rear", listener);
  const TestReport both = make("left rear");
  EXPECT_EQ(one.report.SerializeAsString(), both.report.SerializeAsString());
  EXPECT_EQ(heard.size(), static_cast<std::size_t>(both.report.events_size()));
}

TEST_F(TestReportTest, WritesFourFilesThatAgree) {
  const TestReport test = make("Merganser estate, 1984");
  write_report(test, folder->at("out/deeper"));
  v1::Report binary, json;
  ASSERT_TRUE(binary.ParseFromString(read_file(folder->at("out/deeper/report.pb"))));
  ASSERT_TRUE(google::protobuf::util::JsonStringToMessage(
                  read_file(folder->at("out/deeper/report.json")), &json)
                  .ok());
  EXPECT_EQ(binary.SerializeAsString(), json.SerializeAsString());
  EXPECT_NE(read_file(folder->at("out/deeper/report.json")).find("\"software_version\""),
            std::string::npos);
  EXPECT_EQ(read_file(folder->at("out/deeper/report.pdf")).substr(0, 5), "%PDF-");
  const std::string html = read_file(folder->at("out/deeper/report.html"));
  EXPECT_LT(html.size(), 3'000'000U);
  for (const char* outside : {"http://", "https://", "<script", "url("})
    EXPECT_EQ(html.find(outside), std::string::npos) << outside;
  EXPECT_NE(html.find("alt=\""), std::string::npos);
}

// Whatever a user types is shown and does nothing.
TEST_F(TestReportTest, HostileText) {
  const std::string nasty[] = {"<script>alert(1)</script>",
                               "\"><img src=x onerror=alert(1)>",
                               std::string("bell\x07 null\x01 esc\x1b[31m"),
                               std::string(10'000, 'x'),
                               "\xd7\xa9\xd7\x9c\xd7\x95\xd7\x9d \xe2\x80\xae evil",
                               "&amp; 'q'"};
  for (const std::string& text : nasty) {
    const TestReport test = make(text);
    const std::string html = report_html(test);
    EXPECT_EQ(html.find("<script"), std::string::npos);
    EXPECT_EQ(html.find("<img src=x"), std::string::npos);
    EXPECT_EQ(html.find('\x07'), std::string::npos);
    EXPECT_EQ(html.find('\x1b'), std::string::npos);
    EXPECT_EQ(report_pdf(test).substr(0, 5), "%PDF-");
  }
}

// A report written today must open tomorrow: unknown fields of a newer one are kept apart.
TEST_F(TestReportTest, AReportWithFieldsOfTomorrowOpens) {
  std::string bytes = make("x").report.SerializeAsString();
  bytes += std::string("\xfa\x07\x03new", 6);  // field 127, a string
  v1::Report report;
  ASSERT_TRUE(report.ParseFromString(bytes));
  EXPECT_EQ(report.findings(0).code(), "SOUND");
}

}  // namespace
}  // namespace airlatch
