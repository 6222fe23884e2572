// SPDX-License-Identifier: GPL-3.0-or-later
// airlatch help, what is said of a mistyped command line, and the pages and completions that the
// program makes of itself.
#include <gtest/gtest.h>

#include <cstdlib>

#include "tests/support/program.hpp"

namespace airlatch {
namespace {
using namespace test;

// The names below "Subcommands:" of a help.
std::vector<std::string> listed_in(const std::string& help) {
  std::vector<std::string> names;
  const std::size_t from = help.find("Subcommands:\n");
  if (from == std::string::npos) return names;
  std::istringstream in(help.substr(from + std::strlen("Subcommands:\n")));
  for (std::string line; std::getline(in, line) && line.starts_with("  ");)
    names.push_back(line.substr(2, line.find(' ', 2) - 2));
  return names;
}

void expect_same_help(const std::vector<std::string>& command) {
  std::vector<std::string> with_help = {"help"}, with_option = command;
  with_help.insert(with_help.end(), command.begin(), command.end());
  with_option.emplace_back("--help");
  const Ran help = run(with_help), option = run(with_option);
  EXPECT_EQ(help.status, 0);
  EXPECT_EQ(help.err, "");
  EXPECT_EQ(option.status, 0);
  EXPECT_EQ(help.out, option.out);
  EXPECT_NE(help.out.find("Usage: airlatch"), std::string::npos);
  for (const std::string& verb : listed_in(help.out)) {
    std::vector<std::string> deeper = command;
    deeper.push_back(verb);
    expect_same_help(deeper);
  }
}

TEST(Help, IsWhatTheOptionPrintsForEveryCommand) {
  const std::vector<std::string> commands = listed_in(run({"--help"}).out);
  ASSERT_GE(commands.size(), 10u);
  EXPECT_EQ(commands.back(), "help");
  expect_same_help({});
}

TEST(Help, UnwrittenOutputIsAnError) { EXPECT_EQ(run({"help"}, "/dev/full").status, 74); }

struct Mistyped {
  std::vector<std::string> arguments;
  std::string line;
};

TEST(Help, WhatWasMistypedIsNamedWithTheNearest) {
  for (const Mistyped& m : std::vector<Mistyped>{
           {{"repaly", "x.sr"}, "no command 'repaly'; did you mean 'replay'?"},
           {{"help", "repaly"}, "no command 'repaly'; did you mean 'replay'?"},
           {{"help", "ledger", "trnd"}, "ledger has no command 'trnd'; did you mean 'trend'?"},
           {{"ledger", "ad", "x"}, "ledger has no command 'ad'; did you mean 'add'?"},
           {{"--verison"}, "no option '--verison'; did you mean '--version'?"},
           {{"replay", "x.sr", "--evnts", "-"},
            "replay has no option '--evnts'; did you mean '--events'?"},
           {{"replay", "--stirct"}, "replay has no option '--stirct'; did you mean '--strict'?"},
           {{"replay", "x", "--rg=3"}, "replay has no option '--rg=3'; did you mean '--rig'?"},
           {{"replay", "x", "-quiet"}, "replay has no option '-quiet'; did you mean '--quiet'?"},
           {{"ledger", "trend", "run_time", "--vehicel", "x"},
            "ledger trend has no option '--vehicel'; did you mean '--vehicle'?"}}) {
    const Ran ran = run(m.arguments);
    EXPECT_EQ(ran.status, 64) << m.line;
    EXPECT_EQ(ran.out, "") << m.line;
    EXPECT_EQ(ran.err, "airlatch: " + m.line + "\n");
  }
}

TEST(Help, NothingIsProposedWhereNothingIsNear) {
  for (const Mistyped& m : std::vector<Mistyped>{
           {{"xyzzy"}, "no command 'xyzzy'; airlatch --help shows what there is"},
           {{"help", "xyzzy"}, "no command 'xyzzy'; airlatch --help shows what there is"},
           {{"help", "replay", "it"},
            "replay has no command 'it'; airlatch replay --help shows what there is"},
           {{"-x"}, "no option '-x'; airlatch --help shows what there is"},
           {{"--descibe", "man"}, "no option '--descibe'; airlatch --help shows what there is"},
           {{"replay", "x", "--xyzzy"},
            "replay has no option '--xyzzy'; airlatch replay --help shows what there is"}}) {
    const Ran ran = run(m.arguments);
    EXPECT_EQ(ran.status, 64) << m.line;
    EXPECT_EQ(ran.err, "airlatch: " + m.line + "\n");
  }
}

TEST(Help, OtherMisuseIsOneLineToo) {
  for (const std::vector<std::string>& arguments :
       std::vector<std::vector<std::string>>{{},
                                             {"--"},
                                             {"--", "xyzzy"},
                                             {"replay"},
                                             {"ledger"},
                                             {"replay", "a", "b"},
                                             {"replay", "a", "--", "--evnts"},
                                             {"replay", "--rate", "abc", "--evnts"},
                                             {"xy\nzzy"}}) {
    const Ran ran = run(arguments);
    EXPECT_EQ(ran.status, 64);
    EXPECT_EQ(ran.out, "");
    EXPECT_EQ(lines(ran.err), 1u) << ran.err;
    EXPECT_EQ(ran.err.find("did you mean"), std::string::npos) << ran.err;
  }
}

// Made where the program is built, read anywhere.
TEST(Help, DescriptionsDoNotDependOnWhoMakesThem) {
  for (const char* as : {"man", "bash", "zsh", "fish"}) {
    std::string of_home[2];
    for (int k = 0; k < 2; ++k) {
      const std::string home = k ? "/home/anna-of-the-garage" : "/home/bert-of-the-garage";
      ::setenv("HOME", home.c_str(), 1);
      ::setenv("XDG_DATA_HOME", (home + "/data").c_str(), k);
      const Ran ran = run({"--describe", as});
      ASSERT_EQ(ran.status, 0);
      EXPECT_EQ(ran.out.find(home), std::string::npos) << as;
      EXPECT_EQ(ran.out.find(AIRLATCH_SOURCE_DIR), std::string::npos) << as;
      EXPECT_EQ(ran.out.find(AIRLATCH_BINARY_DIR), std::string::npos) << as;
      of_home[k] = ran.out;
    }
    EXPECT_EQ(of_home[0], of_home[1]) << as;
  }
}

TEST(Help, CompletionOffersCommandsToHelp) {
  EXPECT_NE(run({"--describe", "bash"}).out.find("    help) words=\"-h --help replay capture"),
            std::string::npos);
  EXPECT_NE(run({"--describe", "zsh"}).out.find("'*:command:(replay capture"), std::string::npos);
  EXPECT_NE(run({"--describe", "fish"})
                .out.find("'__fish_seen_subcommand_from help' -f -a 'replay capture"),
            std::string::npos);
}

}  // namespace
}  // namespace airlatch
