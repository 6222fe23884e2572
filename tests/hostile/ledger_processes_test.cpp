// SPDX-License-Identifier: GPL-3.0-or-later
// Many processes at one ledger, a new one at first, and processes killed while they add: every
// report that was said to be kept is there, and the ledger can be read.
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <random>
#include <set>

#include "plugin/message/wire.hpp"
#include "tests/hostile/trial.hpp"
#include "tests/support/files.hpp"
#include "tests/support/program.hpp"

namespace airlatch::hostile {
namespace {
using test::Folder;
using test::read_file;

constexpr std::uint64_t kSeed = 20260312;

// Reports that differ, so that each is an entry.
std::vector<std::string> make_reports(const Folder& folder, int n) {
  std::vector<std::string> out;
  for (int k = 0; k < n; ++k) {
    Report report;
    report.job.emplace().vehicle = "v" + std::to_string(k);
    report.captures.emplace_back().file = "a.sr";
    report.findings.emplace_back().code = "SOUND";
    out.push_back(folder.write("r" + std::to_string(k) + ".pb", to_wire(report)));
  }
  return out;
}

// `airlatch ledger add` begun, not waited for; what it says goes to `said`.
pid_t begin_add(const std::vector<std::string>& reports, const std::string& ledger,
                const std::string& said) {
  const pid_t child = ::fork();
  if (child != 0) return child;
  const int out = ::open(said.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
  ::dup2(out, 1);
  ::dup2(out, 2);
  std::vector<std::string> words = {AIRLATCH_BINARY_DIR "/plugin/host/airlatch", "ledger", "add"};
  words.insert(words.end(), reports.begin(), reports.end());
  words.insert(words.end(), {"--ledger", ledger});
  std::vector<char*> argv;
  for (std::string& word : words) argv.push_back(word.data());
  argv.push_back(nullptr);
  ::execv(argv[0], argv.data());
  ::_exit(127);
}

// The reports of whole lines "FILE: entry N".
std::set<std::string> acknowledged(const std::string& said, const std::vector<std::string>& of) {
  std::set<std::string> out;
  for (const std::string& report : of)
    if (said.find(report + ": entry ") != std::string::npos) out.insert(report);
  return out;
}

// Vehicles of the ledger's entries.
std::set<std::string> kept(const std::string& ledger) {
  std::set<std::string> out;
  const test::Ran list = test::run({"ledger", "list", "--ledger", ledger});
  EXPECT_EQ(list.status, 0) << list.err;
  std::istringstream lines(list.out);
  for (std::string line; std::getline(lines, line);) {
    std::istringstream words(line);
    for (std::string word; words >> word;)
      if (word[0] == 'v') out.insert(word);
  }
  return out;
}

TEST(LedgerProcesses, AllAddToANewLedgerAtOnce) {
  Tally tally("ledger: processes at once");
  const int rounds = draws(2), many = 20, each = 3;
  for (int round = 0; round < rounds; ++round) {
    const Folder folder;
    const std::string ledger = folder.at("ledger");
    const std::vector<std::string> reports = make_reports(folder, many * each);
    std::vector<pid_t> children;
    for (int k = 0; k < many; ++k)
      children.push_back(begin_add({reports.begin() + k * each, reports.begin() + (k + 1) * each},
                                   ledger, folder.at("said" + std::to_string(k))));
    for (int k = 0; k < many; ++k) {
      int status = 0;
      ::waitpid(children[static_cast<std::size_t>(k)], &status, 0);
      Trial trial;
      trial.status = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
      trial.err = read_file(folder.at("said" + std::to_string(k)));
      if (trial.status != 0) {
        trial.outcome = Outcome::kUnclear;
        trial.why = "an add failed";
      }
      tally.count(trial, "round " + std::to_string(round));
    }
    if (kept(ledger).size() != reports.size())
      tally.lost("round " + std::to_string(round) + ": " + std::to_string(kept(ledger).size()) +
                 " of " + std::to_string(reports.size()));
  }
}

TEST(LedgerProcesses, KilledWhileAddingLosesNothingThatWasSaid) {
  Tally tally("ledger: kills at random");
  std::mt19937_64 random(kSeed);
  const Folder folder;
  const std::string ledger = folder.at("ledger"), said = folder.at("said");
  const std::vector<std::string> reports = make_reports(folder, 12);
  std::set<std::string> told;
  for (int k = 0; k < draws(12); ++k) {
    if (k % 12 == 0) {  // a new one: also its making is interrupted
      std::filesystem::remove(ledger);
      told.clear();
    }
    const pid_t child = begin_add(reports, ledger, said);
    ::usleep(static_cast<useconds_t>(random() % 60'000));
    ::kill(child, SIGKILL);
    int status = 0;
    ::waitpid(child, &status, 0);
    Trial trial;
    trial.status = 0;
    tally.count(trial, "kill " + std::to_string(k));
    for (const std::string& report : acknowledged(read_file(said), reports)) {
      const std::size_t at = report.rfind('r') + 1;
      told.insert("v" + report.substr(at, report.rfind('.') - at));
    }
    const std::set<std::string> there = kept(ledger);
    for (const std::string& vehicle : told)
      if (there.count(vehicle) == 0) tally.lost("kill " + std::to_string(k) + ": " + vehicle);
  }
}

// What goes wrong is told apart, each with its own mend.
TEST(LedgerProcesses, WhatIsWrongIsToldApart) {
  Tally tally("ledger: errors");
  const Folder folder;
  const std::vector<std::string> reports = make_reports(folder, 1);
  const auto refused = [&](const std::string& ledger, int status, const std::string& word) {
    const Trial trial = run_trial({"ledger", "add", reports[0], "--ledger", ledger});
    tally.count(trial, word);
    EXPECT_EQ(trial.status, status) << trial.err;
    EXPECT_NE(trial.err.find(word), std::string::npos) << trial.err;
  };
  refused(folder.write("text", "no database, but long enough to look at it as one ......... "), 65,
          "this is no ledger");
  refused("/proc/version/ledger", 73, "cannot be opened or made");
  const std::string ledger = folder.at("ledger");
  ASSERT_EQ(run_trial({"ledger", "add", reports[0], "--ledger", ledger}).status, 0);
  std::string damaged = read_file(ledger);
  damaged.replace(100, damaged.size() - 100, damaged.size() - 100, '\x55');
  refused(folder.write("damaged", damaged), 65, "damaged");
}

}  // namespace
}  // namespace airlatch::hostile
