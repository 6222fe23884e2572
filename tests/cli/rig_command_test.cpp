// SPDX-License-Identifier: GPL-3.0-or-later
// airlatch rig from the outside: what it proposes is taken by replay, and means the same.
#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <random>

#include "plugin/message/setup_file.hpp"
#include "plugin/rehearse/rehearsal.hpp"
#include "plugin/rehearse/write.hpp"
#include "tests/support/program.hpp"

namespace airlatch {
namespace {
using namespace test;

Rehearsal rehearsed(std::int64_t rate_hz) {
  return rehearse({.fault = "line-leak", .rate_hz = rate_hz, .seed = 4, .hold_s = 6});
}

// The same samples under other names and in another order.
Rehearsal renamed(Rehearsal from, const std::map<std::string, std::string>& names, unsigned seed) {
  for (auto& channel : from.channels)
    if (const auto at = names.find(channel.name); at != names.end()) channel.name = at->second;
  std::shuffle(from.channels.begin(), from.channels.end(), std::mt19937(seed));
  return from;
}

const std::map<std::string, std::string> kWorkshop = {{"supply_v", "Batteriespannung"},
                                                      {"feed_a_v", "Kontakt A"},
                                                      {"feed_b_v", "Kontakt B"},
                                                      {"return_v", "Masse"},
                                                      {"motor_a", "Strom"},
                                                      {"line_kpa", "Druck"}};
const std::map<std::string, std::string> kNone = {{"supply_v", "CH1"}, {"feed_a_v", "CH2"},
                                                  {"feed_b_v", "CH3"}, {"return_v", "CH4"},
                                                  {"motor_a", "CH5"},  {"line_kpa", "CH6"}};

TEST(RigCommand, WhatItProposesIsReplayedToTheSameEvents) {
  const Folder folder;
  const Rehearsal right = rehearsed(1000);
  write_csv(folder.at("right.csv"), right);
  const Ran expected = run({"replay", folder.at("right.csv"), "--events", "-"});
  ASSERT_EQ(expected.status, 0) << expected.err;
  ASSERT_GT(lines(expected.out), 5U);
  for (const auto& [names, seed] : {std::pair{kWorkshop, 1U}, {kWorkshop, 2U}}) {
    const std::string file = folder.at("renamed.csv"), rig = folder.at("renamed.rig");
    write_csv(file, renamed(right, names, seed));
    const Ran proposed = run({"rig", file, "--out", rig});
    ASSERT_EQ(proposed.status, 0) << proposed.err;
    EXPECT_EQ(proposed.out, "");
    const Ran replayed = run({"replay", file, "--rig", rig, "--events", "-"});
    EXPECT_EQ(replayed.status, 0) << replayed.err << read_file(rig);
    EXPECT_EQ(replayed.out, expected.out) << read_file(rig);
  }
}

// By the signals alone, in the order of an instrument's channels.
TEST(RigCommand, NamelessChannelsToo) {
  const Folder folder;
  Rehearsal right = rehearsed(1000);
  write_csv(folder.at("right.csv"), right);
  const Ran expected = run({"replay", folder.at("right.csv"), "--events", "-"});
  for (auto& channel : right.channels) channel.name = kNone.at(channel.name);
  write_csv(folder.at("nameless.csv"), right);
  const Ran proposed = run({"rig", folder.at("nameless.csv")});
  EXPECT_EQ(proposed.status, 0) << proposed.err;
  EXPECT_EQ(proposed.err, "");
  EXPECT_NE(proposed.out.find("a guess"), std::string::npos);
  const std::string rig = folder.write("x.rig", proposed.out);
  const Ran replayed = run({"replay", folder.at("nameless.csv"), "--rig", rig, "--events", "-"});
  EXPECT_EQ(replayed.out, expected.out) << proposed.out << replayed.err;
}

TEST(RigCommand, TheRefusalOfReplayNamesIt) {
  const Folder folder;
  const std::string file = folder.write("x.csv", "time,Foo\n0,1\n1,2\n2,1\n");
  const Ran refused = run({"replay", file});
  EXPECT_EQ(refused.status, 65);
  EXPECT_NE(refused.err.find("airlatch rig FILE"), std::string::npos) << refused.err;
}

// Names that would end a comment or a text, or steer a terminal.
TEST(RigCommand, HostileNamesStayInTheirPlace) {
  const Folder folder;
  std::string text = "time,\"a\"\" role: \\\",\"# Strom\x1b[2J\",Druck } {\n";
  for (int k = 0; k < 300; ++k)
    text += std::to_string(k * 0.1) + "," + std::to_string(k % 100) + "," +
            std::to_string(k > 100 ? 5 : 0) + "," + std::to_string(k) + "\n";
  const std::string file = folder.write("x.csv", text);
  const Ran proposed = run({"rig", file});
  ASSERT_EQ(proposed.status, 0) << proposed.err;
  EXPECT_EQ(proposed.out.find('\x1b'), std::string::npos);
  const Ran replayed = run({"replay", file, "--rig", folder.write("x.rig", proposed.out)});
  EXPECT_EQ(replayed.status, 0) << replayed.err << proposed.out;
}

TEST(RigCommand, ARigGivenIsGoneOnFrom) {
  const Folder folder;
  std::string text = "a preamble, of two columns\nStrom;t\n";
  for (int k = 0; k < 300; ++k)
    text += std::to_string(k > 100 ? 5 : 0) + ";" + std::to_string(k * 10) + "\n";
  const std::string rig = folder.write(
      "begun.rig",
      "text { skip_lines: 1 time_unit: \"ms\" } channel { source: \"Strom\" role: MOTOR_CURRENT "
      "scale: 2 }");
  const Ran proposed = run({"rig", folder.write("x.csv", text), "--rig", rig});
  ASSERT_EQ(proposed.status, 0) << proposed.err;
  const Rig taken = parse_rig(proposed.out, SetupFormat::kText, "proposed");
  ASSERT_EQ(taken.channel.size(), 1U);
  EXPECT_EQ(taken.channel[0].scale, 2);
  ASSERT_TRUE(taken.text);
  EXPECT_EQ(taken.text->time_unit, "ms");
}

}  // namespace
}  // namespace airlatch
