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
)"),
               find_plan("branch-isolation"));
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
  EXPECT_THROW(read_job(folder.write("x.job", "capture { phase: AFTER }"), Plan()), InputError);
}

// What a rig, plan or job says that cannot be meant: refused at its place, with what may stand there.
TEST_F(SetupFile, WhatCannotBeMeantIsRefusedAtItsPlace) {
  const auto refused = [&](const auto& read, const std::string& text) -> std::string {
    try {
      read(folder.write("x", text));
    } catch (const InputError& error) {
      EXPECT_EQ(error.status(), ExitStatus::kUnusableData);
      const std::string line = error.what();
      return line.substr(line.rfind("/x") + 2);
    }
    return "taken";
  };
  struct Case {
    const char* text;
    const char* place_and_what;
  };
  const auto expect = [&](const auto& read, std::initializer_list<Case> cases) {
    for (const Case& one : cases) {
      const std::string line = refused(read, one.text);
      EXPECT_TRUE(line.starts_with(one.place_and_what)) << one.text << " -> " << line;
      EXPECT_NE(line.find("; "), std::string::npos) << line;
    }
  };
  expect(
      read_rig,
      {{"channel { source: \"a\" role: 99 }", ", line 1, column 23: role has no value 99"},
       {"channel { source: \"a\" role: -1 }", ", line 1, column 23: role has no value -1"},
       {"channel { source: \"a\" role: 0 }", ", line 1, column 23: role must be given"},
       {"channel { source: \"a\" role: LINE_PRESSURE range_max: nan }",
        ", line 1, column 43: range_max is nan"},
       {"channel { source: \"a\" role: LINE_PRESSURE u_abs: inf }",
        ", line 1, column 43: u_abs is inf"},
       {"channel { source: \"a\" role: LINE_PRESSURE u_rel: 5 }",
        ", line 1, column 43: u_rel is 5, which is not within 0 to 1"},
       {"channel { source: \"a\" role: LINE_PRESSURE scale: -0.0 }", ", line 1, column 43: scale"},
       {"channel { source: \"a\" role: LINE_PRESSURE offset: -1e300 }",
        ", line 1, column 43: offset"},
       {"contact_a_direction: 3", ", line 1, column 1: contact_a_direction has no value 3"},
       {"\n commutator_segments: 4294967295", ", line 2, column 2: commutator_segments"}});
  expect(
      read_plan,
      {{"step { id: \"a\" expect: STALL_CUTOFF } step { id: \"a\" expect: RUN_ON }",
        ", line 1, column 46: two steps have the id \"a\""},
       {"step { id: \"a\" }", ", line 1, column 1: expect must be given"},
       {"step { expect: 77 }", ", line 1, column 8: expect has no value 77"},
       {"step { expect: RUN_ON direction: 3 }", ", line 1, column 23: direction has no value 3"},
       {"step { expect: RUN_ON\nlimit { measure: \"x\" max: nan } }",
        ", line 2, column 22: max is nan"},
       {"step { expect: RUN_ON\nlimit { measure: \"x\" min: 2 max: 1 } }",
        ", line 2, column 1: min is above max"},
       {"step { expect: RUN_ON\nlimit { measure: \"x\" } }",
        ", line 2, column 1: the limit of \"x\" has neither min nor max"},
       {"step { expect: RUN_ON limit { max: 1 } }", ", line 1, column 23: measure must be given"},
       {"response_limit_s: nan", ", line 1, column 1: response_limit_s is nan"}});
  const Plan plan = parse_plan(
      "name: \"p\" step { id: \"hold\" expect: LEAK_DECAY } branch: [\"left\", \"right\"]",
      SetupFormat::kText, "p");
  expect(
      [&](const std::string& path) { read_job(path, plan); },
      {{"date: \"2026-99-01\"", ", line 1, column 1: \"2026-99-01\" is no day"},
       {"date: \"2026-02-29\"", ", line 1, column 1: \"2026-02-29\" is no day"},
       {"date: \"26-02-28\"", ", line 1, column 1: \"26-02-28\" is no day"},
       {"date: \"2026-3-014\"", ", line 1, column 1: \"2026-3-014\" is no day"},
       {"capture { file: \"a\" phase: 7 }", ", line 1, column 21: phase has no value 7"},
       {"capture { file: \"a\" step: \"hole\" }",
        ", line 1, column 21: the plan \"p\" has no step \"hole\"; its steps are hold"},
       {"capture { file: \"a\" closed_branch: \"left, boot\" }",
        ", line 1, column 21: the plan \"p\" has no branch \"boot\"; its branches are left, right"},
       {"vehicle: \"Gr\xfcn\"",
        ", line 1, column 10: the text of the field \"vehicle\" is not UTF-8"},
       {"\xff\xfe"
        "c",
        ", line 1: this is UTF-16"}});
  EXPECT_EQ(refused([&](const std::string& path) { read_job(path, plan); },
                    "\xef\xbb\xbf"
                    "date: \"2028-02-29\" capture { file: \"a\" step: \"hold\" "
                    "closed_branch: \"right\" } capture { file: \"b\" step: \"find_contacts\" }"),
            "taken");
}

TEST_F(SetupFile, NoMoreThanAMebibyteIsRead) {
  EXPECT_NE(rig("# " + std::string(1 << 20, 'a')).line.find("larger than 1 MiB"),
            std::string::npos);
  EXPECT_EQ(rig("# " + std::string((1 << 20) - 2, 'a')).line, "");
  try {
    read_rig("/dev/zero");
    FAIL() << "read to its end what has none";
  } catch (const InputError& error) {
    EXPECT_NE(std::string(error.what()).find("larger than 1 MiB"), std::string::npos);
  }
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

TEST(BranchNames, AreSplitAtCommas) {
  EXPECT_EQ(branch_names(" left rear, tailgate ,"),
            (std::vector<std::string>{"left rear", "tailgate"}));
  EXPECT_TRUE(branch_names("").empty());
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
