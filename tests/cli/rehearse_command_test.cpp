// SPDX-License-Identifier: GPL-3.0-or-later
#include <gtest/gtest.h>

#include "tests/support/program.hpp"

namespace airlatch {
namespace {
using namespace test;

TEST(RehearseCommand, WritesCaptureTruthAndRig) {
  const Folder folder;
  const Ran ran = run({"rehearse", "sound", "--rate", "500", "--out", folder.at("a.sr"), "--truth",
                       folder.at("a.truth.json"), "--rig-out", folder.at("a.rig")});
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_NE(ran.out.find("invented"), std::string::npos);
  EXPECT_GE(lines(read_file(folder.at("a.truth.json"))), 8U);
  EXPECT_EQ(run({"replay", folder.at("a.sr"), "--rig", folder.at("a.rig"), "--quiet"}).status, 0);
}

TEST(RehearseCommand, TheSameSeedTheSameBytes) {
  const Folder folder;
  for (const char* name : {"a.csv", "b.csv"})
    ASSERT_EQ(run({"rehearse", "line-leak", "--rate", "4", "--seed", "5", "--decimal-comma",
                   "--out", folder.at(name), "--quiet"})
                  .status,
              0);
  EXPECT_EQ(read_file(folder.at("a.csv")), read_file(folder.at("b.csv")));
  EXPECT_NE(read_file(folder.at("a.csv")).find(';'), std::string::npos);
}

TEST(RehearseCommand, Refusals) {
  const Ran unknown = run({"rehearse", "gremlins"});
  EXPECT_EQ(unknown.status, 64);
  EXPECT_NE(unknown.err.find("motor-seized"), std::string::npos);  // the known ones are listed
  EXPECT_EQ(run({"rehearse"}).status, 64);
  EXPECT_EQ(run({"rehearse", "sound", "--rate", "0"}).status, 64);
  EXPECT_EQ(run({"rehearse", "sound", "--rate", "10", "--out", "/nonexistent/x.sr"}).status, 73);
}

}  // namespace
}  // namespace airlatch
