// SPDX-License-Identifier: GPL-3.0-or-later
// Every fault that can be rehearsed, with options drawn from the ends of their ranges.
#include <gtest/gtest.h>

#include <filesystem>
#include <random>

#include "plugin/rehearse/faults.hpp"
#include "tests/hostile/trial.hpp"
#include "tests/support/files.hpp"

namespace airlatch::hostile {
namespace {

TEST(Rehearsals, EndsOfRangesAreMadeOrRefused) {
  const test::Folder folder;
  Tally tally("rehearsals");
  std::mt19937_64 random(11);
  const auto one_of = [&](std::vector<std::string> words) {
    return words[random() % words.size()];
  };
  for (int k = 0; k < draws(8); ++k) {
    const Fault& fault = faults()[random() % faults().size()];
    const std::vector<std::string> arguments{"rehearse",   fault.name,
                                             "--out",      folder.at(one_of({"a.csv", "a.sr"})),
                                             "--truth",    folder.at("truth"),
                                             "--rate",     one_of({"1", "7", "1000"}),
                                             "--hold",     one_of({"1", "30", "600"}),
                                             "--leak-tau", one_of({"0.1", "5", "1e6"}),
                                             "--noise",    one_of({"0", "1", "1000"}),
                                             "--bits",     one_of({"0", "1", "24"}),
                                             "--seed",     std::to_string(random())};
    std::string all;
    for (const std::string& a : arguments) all += a + " ";
    tally.count(run_trial(arguments), all);
  }
}

// The pump of a command line never stops by itself here: the technician has to end it.
TEST(Rehearsals, ACommandPumpThatRunsOnIsEnded) {
  const test::Folder folder;
  const Trial trial = run_trial({"rehearse", "command-pump", "--leak-tau", "5", "--rate", "1000",
                                 "--out", folder.at("a.csv"), "--truth", folder.at("truth")});
  EXPECT_EQ(trial.outcome, Outcome::kDone) << trial.err;
  EXPECT_NE(test::read_file(folder.at("truth")).find("\"MOTOR_STOP\""), std::string::npos);
}

TEST(Rehearsals, MoreReadingsThanCanBeHeldAreRefused) {
  const test::Folder folder;
  const Trial trial = run_trial(
      {"rehearse", "sound", "--rate", "1000000", "--hold", "86400", "--out", folder.at("a.csv")},
      "/dev/null", {.time = std::chrono::seconds(60), .memory_kib = 2 << 20});
  EXPECT_EQ(trial.status, 64) << trial.err;
  EXPECT_NE(trial.err.find("--hold"), std::string::npos) << trial.err;
}

}  // namespace
}  // namespace airlatch::hostile
