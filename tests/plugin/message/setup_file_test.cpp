// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/message/setup_file.hpp"

#include <gtest/gtest.h>

#include "plugin/message/plans.hpp"
#include "plugin/message/wire.hpp"
#include "tests/support/files.hpp"

namespace airlatch {
namespace {
using namespace test;

class SetupFile : public testing::Test {
 protected:
  Refusal rig(const std::string& text) {
    try {
      read_rig(folder.write("bench.rig", text));
    } catch (const InputError& error) {
      return {error.what(), static_cast<int>(error.status())};
    }
    return {};
  }
  Folder folder;
};

// The very example of the contract.
TEST_F(SetupFile, RigOfTheContract) {
  const Rig rig = read_rig(folder.write("bench.rig", R"(# rig: Rig
name: "bench"
channel { source: "CH1" role: LINE_PRESSURE  scale: 50 offset: -125 range_min: -100 range_max: 100 u_abs: 0.3 u_rel: 0.005 }
channel { source: "CH2" role: MOTOR_CURRENT  scale: 10 invert: true auto_zero: true }
contact_a_direction: PRESSURE
line_volume_ml: 250  line_volume_u_ml: 10
commutator_segments: 10
nominal_voltage_v: 12
)"));
  ASSERT_EQ(rig.channel.size(), 2U);
  EXPECT_EQ(rig.channel[0].role, Role::LINE_PRESSURE);
  EXPECT_EQ(rig.channel[0].scale, 50);
  EXPECT_TRUE(rig.channel[1].invert);
  EXPECT_EQ(rig.line_volume_ml, 250);
}

TEST_F(SetupFile, PlanAndJobOfTheContract) {
  const Plan plan = read_plan(folder.write("x.plan", R"(name: "pump alone, port closed"
response_limit_s: 0.3
run_limit_s: 15
step { id: "pressure" title: "Blow against the closed port" prompt: "Feed contact A, keep the port closed"
       expect: STALL_CUTOFF direction: PRESSURE
       limit { measure: "run_time" max: 4 } limit { measure: "end_pressure" min: 35 } limit { measure: "decay_rate" max: 2 } }
)"));
  ASSERT_EQ(plan.step.size(), 1U);
  EXPECT_EQ(plan.step[0].limit[1].min, 35);
  const Job job =
      read_job(folder.write("x.job", R"(vehicle: "Merganser estate, 1984"  job_number: "S-0412"
capture { file: "before.sr" phase: BEFORE step: "whole_line" }
capture { file: "before-left-rear-closed.sr" phase: BEFORE step: "whole_line" closed_branch: "left rear" }
capture { file: "after.sr" phase: AFTER step: "whole_line" }
)"));
  ASSERT_EQ(job.capture.size(), 3U);
  EXPECT_EQ(job.capture[1].closed_branch, "left rear");
}

TEST_F(SetupFile, ErrorsNameLineAndColumn) {
  struct Case {
    const char* text;
    const char* place;
    const char* says;
  };
  const Case cases[] = {
      {"name: \"x\"\nchanel { }\n", "line 2, column 8", "chanel"},
      {"channel { source: \"a\" role: LINE_PRESURE }", "column", "LINE_PRESSURE"},
      {"channel { source: \"a\" role: LINE_PRESSURE }\nchannel { source: \"b\" role: LINE_PRESSURE "
       "}",
       "line 2", "LINE_PRESSURE"},
      {"channel { source: \"a\" role: LINE_PRESSURE scale: 0 }", "line 1", "scale"},
      {"channel { source: \"a\" role: LINE_PRESSURE scale: fifty }", "line 1", ""},
      {"channel { source: \"a\" role: LINE_PRESSURE", "line 1", ""},
      {"channel { source: \"a\" role: LINE_PRESSURE range_min: 5 range_max: -5 }", "line 1",
       "range"},
  };
  for (const Case& c : cases) {
    const Refusal said = rig(c.text);
    EXPECT_EQ(said.status, 65) << c.text << " -> " << said.line;
    EXPECT_NE(said.line.find("bench.rig"), std::string::npos) << said.line;
    EXPECT_NE(said.line.find(c.place), std::string::npos) << c.text << " -> " << said.line;
    EXPECT_NE(said.line.find(c.says), std::string::npos) << c.text << " -> " << said.line;
    EXPECT_EQ(said.line.find('\n'), std::string::npos) << said.line;
  }
}

TEST_F(SetupFile, MissingFile) {
  try {
    read_rig(folder.at("none.rig"));
    FAIL() << "read a file that is not there";
  } catch (const InputError& error) {
    EXPECT_EQ(error.status(), ExitStatus::kNotFound);
  }
}

// Of the very entry that is wrong, also within a list.
TEST_F(SetupFile, ErrorsOfMeaningStandAtTheirPlace) {
  const auto place = [&](const std::string& text) {
    const std::string line = rig(text).line;
    const std::size_t from = line.find("line ");
    return from == std::string::npos ? line : line.substr(from, line.find(':', from) - from);
  };
  const std::string first = "channel { source: \"a\" role: LINE_PRESSURE }\n";
  EXPECT_EQ(place(first + "channel { role: MOTOR_CURRENT }"), "line 2, column 1");
  EXPECT_EQ(place(first + "channel { source: \"b\" }"), "line 2, column 1");
  EXPECT_EQ(place(first + "channel { source: \"A\" role: MOTOR_CURRENT }"), "line 2, column 11");
  EXPECT_EQ(place(first + "channel { source: \"b\" role: MOTOR_CURRENT u_rel: -1 }"),
            "line 2, column 43");
  EXPECT_EQ(place("channel: [{ source: \"a\" role: LINE_PRESSURE },\n  { source: \"b\" }]"),
            "line 2, column 3");
  EXPECT_EQ(place("name: \"x\"\n  line_volume_u_ml: -3"), "line 2, column 3");
  EXPECT_EQ(place("nominal_voltage_v: nan"), "line 1, column 1");
}

TEST_F(SetupFile, PlansAndJobsAreChecked) {
  EXPECT_THROW(parse_plan("response_limit_s: 0", SetupFormat::kText, "x.plan"), InputError);
  EXPECT_THROW(parse_plan("run_limit_s: -1", SetupFormat::kText, "x.plan"), InputError);
  EXPECT_THROW(read_job(folder.write("x.job", "capture { phase: AFTER }")), InputError);
}

TEST_F(SetupFile, Binary) {
  const std::string text = R"(name: "x" channel { source: "a" role: LINE_PRESSURE scale: 2 })";
  const Rig rig = parse_rig(text, SetupFormat::kText, "x");
  EXPECT_EQ(parse_rig(to_wire(rig), SetupFormat::kBinary, "x"), rig);
  const auto refused = [&](const std::string& bytes) -> std::string {
    try {
      (void)parse_rig(bytes, SetupFormat::kBinary, "the host's rig");
    } catch (const InputError& error) {
      return error.what();
    }
    return {};
  };
  EXPECT_EQ(refused("no rig"),
            "the host's rig: this is not an airlatch.v1.Rig; serialise one, or hand over text");
  Rig wrong = rig;
  wrong.channel[0].scale = 0;
  EXPECT_EQ(
      refused(to_wire(wrong)),
      "the host's rig: scale must be a finite number other than 0; give the role's unit per raw "
      "unit, for example scale: 10");
}

TEST(Plans, EveryBuiltInPlanIsRead) {
  for (const BuiltInPlan& plan : built_in_plans()) {
    EXPECT_EQ(find_plan(plan.name), parse_plan(plan.text, SetupFormat::kText, plan.name));
    EXPECT_FALSE(find_plan(plan.name).step.empty());
  }
  EXPECT_THROW(find_plan("no such plan"), InputError);
}

}  // namespace
}  // namespace airlatch
