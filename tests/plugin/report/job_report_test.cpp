// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/job_report.hpp"

#include <google/protobuf/util/json_util.h>
#include <gtest/gtest.h>

#include "airlatch/v1/report.pb.h"
#include "plugin/message/plans.hpp"
#include "plugin/message/setup_file.hpp"
#include "plugin/message/wire.hpp"
#include "plugin/rehearse/rehearsal.hpp"
#include "plugin/rehearse/write.hpp"
#include "tests/support/files.hpp"

namespace airlatch {
namespace {
using namespace test;

class JobReportTest : public testing::Test {
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
  static JobReport make(const std::string& vehicle, const JobListener& listener = {}) {
    Job job;
    job.vehicle = vehicle;
    for (const auto& [name, phase] :
         {std::pair("line-leak", Phase::BEFORE), std::pair("sound", Phase::AFTER)}) {
      auto& capture = job.capture.emplace_back();
      capture.file = std::string(name) + ".sr";
      capture.rig = std::string(name) + ".rig";
      capture.phase = phase;
      capture.closed_branch = vehicle;
    }
    return make_report(job, folder->at(""), {}, find_plan("bench-pump"), {}, listener);
  }
  static Folder* folder;
};
Folder* JobReportTest::folder = nullptr;

TEST_F(JobReportTest, BeforeAndAfter) {
  const JobReport test = make("Merganser estate, 1984");
  EXPECT_EQ(test.report.findings[0].code, "SOUND");
  ASSERT_FALSE(test.report.before_findings.empty());
  EXPECT_EQ(test.report.before_findings[0].code, "LINE_LEAK");
  ASSERT_EQ(std::ssize(test.report.steps), 4);
  for (const auto& step : test.report.steps) EXPECT_EQ(step.outcome, Outcome::PASS) << step.id;
  EXPECT_EQ(std::ssize(test.report.runs), 4);
  EXPECT_EQ(std::ssize(test.report.decays), 4);
  EXPECT_EQ(test.report.captures[0].sha256.size(), 64U);
}

// Captures are decoded side by side, or one after the other where somebody listens.
TEST_F(JobReportTest, SideBySideIsTheSameAsOneAfterTheOther) {
  std::vector<std::string> received;
  JobListener listener;
  listener.on_event = [&](const Event& event) { received.push_back(to_wire(event)); };
  const JobReport one = make("left rear", listener);
  const JobReport both = make("left rear");
  EXPECT_EQ(to_wire(one.report), to_wire(both.report));
  EXPECT_EQ(received.size(), static_cast<std::size_t>(std::ssize(both.report.events)));
}

TEST_F(JobReportTest, WritesFourFilesThatAgree) {
  const JobReport test = make("Merganser estate, 1984");
  write_report(test, folder->at("out/deeper"));
  v1::Report binary, json;
  ASSERT_TRUE(binary.ParseFromString(read_file(folder->at("out/deeper/report.pb"))));
  ASSERT_TRUE(google::protobuf::util::JsonStringToMessage(
                  read_file(folder->at("out/deeper/report.json")), &json)
                  .ok());
  EXPECT_EQ(binary.SerializeAsString(), json.SerializeAsString());
  EXPECT_EQ(binary.SerializeAsString(), to_wire(test.report));
  EXPECT_NE(read_file(folder->at("out/deeper/report.json")).find("\"software_version\""),
            std::string::npos);
  EXPECT_EQ(read_file(folder->at("out/deeper/report.pdf")).substr(0, 5), "%PDF-");
  const std::string html = read_file(folder->at("out/deeper/report.html"));
  EXPECT_LT(html.size(), 3'000'000U);
  for (const char* outside : {"http://", "https://", "<script", "url("})
    EXPECT_EQ(html.find(outside), std::string::npos) << outside;
  EXPECT_NE(html.find("role=\"img\" aria-label=\""), std::string::npos);
  // Why a measure is missing stands beside the event.
  EXPECT_NE(html.find("motor_resistance: needs 5000 samples a second"), std::string::npos);
}

// Whatever a user types is shown and does nothing.
TEST_F(JobReportTest, HostileText) {
  const std::string nasty[] = {"<script>alert(1)</script>",
                               "\"><img src=x onerror=alert(1)>",
                               std::string("bell\x07 null\x01 esc\x1b[31m"),
                               std::string(10'000, 'x'),
                               "\xd7\xa9\xd7\x9c\xd7\x95\xd7\x9d \xe2\x80\xae evil",
                               "&amp; 'q'"};
  for (const std::string& text : nasty) {
    const JobReport test = make(text);
    const std::string html = report_html(test);
    EXPECT_EQ(html.find("<script"), std::string::npos);
    EXPECT_EQ(html.find("<img src=x"), std::string::npos);
    EXPECT_EQ(html.find('\x07'), std::string::npos);
    EXPECT_EQ(html.find('\x1b'), std::string::npos);
    EXPECT_EQ(report_pdf(test).substr(0, 5), "%PDF-");
  }
}

// A report of tomorrow opens today: fields that are not known are passed over.
TEST_F(JobReportTest, AReportWithFieldsOfTomorrowOpens) {
  std::string bytes = to_wire(make("x").report);
  bytes += std::string("\xfa\x07\x03new", 6);  // field 127, a string
  Report report;
  ASSERT_TRUE(from_wire(bytes, report));
  EXPECT_EQ(report.findings[0].code, "SOUND");
}

}  // namespace
}  // namespace airlatch
