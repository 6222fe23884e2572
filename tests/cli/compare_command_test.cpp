// SPDX-License-Identifier: GPL-3.0-or-later
// airlatch compare, from outside.
#include <gtest/gtest.h>

#include "plugin/message/report.hpp"
#include "plugin/message/wire.hpp"
#include "plugin/rehearse/rehearsal.hpp"
#include "plugin/rehearse/write.hpp"
#include "tests/support/program.hpp"

namespace airlatch {
namespace {
using namespace test;

class CompareCommand : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    folder = new Folder;
    for (const char* fault : {"line-leak", "sound"}) {
      const Rehearsal r = rehearse({.fault = fault, .rate_hz = 1000, .seed = 61, .hold_s = 8});
      write_session(folder->at(std::string(fault) + ".sr"), r);
      write_rig(folder->at("bench.rig"), r);
    }
  }
  static void TearDownTestSuite() { delete folder; }
  static Folder* folder;
};
Folder* CompareCommand::folder = nullptr;

TEST_F(CompareCommand, CapturesAndReportsTellTheSame) {
  const std::string rig = folder->at("bench.rig");
  for (const char* name : {"line-leak", "sound"})
    ASSERT_EQ(run({"replay", folder->at(std::string(name) + ".sr"), "--rig", rig, "--quiet",
                   "--report", folder->at(name)})
                  .status,
              0);
  const Ran captures = run({"compare", folder->at("line-leak.sr"), folder->at("sound.sr"), "--rig",
                            rig, "--report", folder->at("both")});
  EXPECT_EQ(captures.status, 0) << captures.err;
  EXPECT_NE(captures.out.find("decay_rate"), std::string::npos);
  EXPECT_NE(captures.out.find("improved"), std::string::npos);
  const std::string changes = captures.out.substr(captures.out.find("\n\n"));
  for (const char* ending : {"/report.pb", "/report.json"}) {
    const Ran reports =
        run({"compare", folder->at("line-leak") + ending, folder->at("sound") + ending});
    EXPECT_EQ(reports.out.substr(reports.out.find("\n\n")),
              changes.substr(0, changes.find("\nWritten")))
        << ending;
  }
  Report both;
  ASSERT_TRUE(from_wire(read_file(folder->at("both/report.pb")), both));
  EXPECT_GT(std::ssize(both.changes), 10);
  EXPECT_EQ(std::ssize(both.captures), 2);
  EXPECT_EQ(both.before_findings[0].code, "LINE_LEAK");
  EXPECT_NE(read_file(folder->at("both/report.html")).find("Before against after"),
            std::string::npos);
}

TEST_F(CompareCommand, OtherRigsArePointedOut) {
  EXPECT_NE(run({"compare", folder->at("sound.sr"), folder->at("sound.sr"), "--rig-after",
                 folder->at("bench.rig")})
                .out.find("The rigs differ"),
            std::string::npos);
}

TEST_F(CompareCommand, BadInputIsRefused) {
  EXPECT_EQ(run({"compare", folder->at("sound.sr")}).status, 64);
  EXPECT_EQ(run({"compare", folder->at("sound.sr"), folder->at("none.sr")}).status, 66);
  folder->write("broken.json", "{\"captures\": 3}");
  EXPECT_EQ(run({"compare", folder->at("sound.sr"), folder->at("broken.json")}).status, 65);
}

}  // namespace
}  // namespace airlatch
