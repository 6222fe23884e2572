// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/ledger/ledger.hpp"

#include <gtest/gtest.h>
#include <signal.h>

#include "plugin/message/wire.hpp"
#include "tests/support/files.hpp"
#include "tests/support/program.hpp"

namespace airlatch {
namespace {
using namespace test;

Report report(const std::string& vehicle, const std::string& date, double decay_kpa_min) {
  Report out;
  out.job.emplace();
  out.job->vehicle = vehicle;
  out.job->date = date;
  out.captures.emplace_back().file = "a.sr";
  out.findings.emplace_back().code = "SOUND";
  Event& decay = out.events.emplace_back();
  decay.kind = Kind::LEAK_DECAY;
  decay.direction = Direction::PRESSURE;
  add_measure(decay, "decay_rate", {decay_kpa_min, 0.1}, "kPa/min");
  return out;
}

TEST(LedgerTest, KeepsByVehicleAndDate) {
  const Folder folder;
  Ledger ledger(folder.at("deeper/ledger.sqlite"));
  EXPECT_EQ(ledger.add(report("Merganser", "2026-05-01", 3), "2026-11-01T00:00:00Z"),
            std::pair(std::int64_t{1}, true));
  EXPECT_TRUE(ledger.add(report("Merganser", "2026-03-01", 1), "2026-11-02T00:00:00Z").second);
  EXPECT_TRUE(ledger.add(report("Other", "", 9), "2026-11-03T00:00:00Z").second);
  // Twice is once, also from another process's view.
  EXPECT_EQ(Ledger(folder.at("deeper/ledger.sqlite"))
                .add(report("Merganser", "2026-05-01", 3), "2026-12-01T00:00:00Z"),
            std::pair(std::int64_t{1}, false));
  EXPECT_EQ(ledger.list().size(), 3U);
  const auto points = ledger.trend("Merganser", "decay_rate");
  ASSERT_EQ(points.size(), 2U);
  EXPECT_EQ(points[0].measure.value, 1);  // the earlier date first
  EXPECT_EQ(points[1].measure.value, 3);
  EXPECT_TRUE(ledger.trend("Merganser", "no_such").empty());
  EXPECT_EQ(ledger.show(1).job->date, "2026-05-01");
  EXPECT_THROW((void)ledger.show(77), InputError);
}

TEST(LedgerTest, AQuoteInANameIsAName) {
  const Folder folder;
  Ledger ledger(folder.at("l"));
  const std::string nasty = "'; DROP TABLE report; --";
  ledger.add(report(nasty, "", 1), "2026-11-01T00:00:00Z");
  EXPECT_EQ(ledger.list(nasty).size(), 1U);
  EXPECT_EQ(ledger.list("'").size(), 0U);
}

TEST(LedgerTest, OtherFilesAreRefused) {
  const Folder folder;
  for (const auto& [name, content] :
       {std::pair("text", std::string(5000, 'x')), std::pair("short", std::string("SQLite"))}) {
    folder.write(name, content);
    try {
      Ledger ledger(folder.at(name));
      FAIL() << name;
    } catch (const InputError& error) {
      EXPECT_EQ(error.status(), ExitStatus::kUnusableData) << error.what();
    }
    EXPECT_EQ(read_file(folder.at(name)), content);
  }
}

// Killed in the middle of a write, again and again: what was acknowledged is there, and sound.
TEST(LedgerTest, KilledItLosesNothing) {
  const Folder folder;
  const std::string path = folder.at("ledger.sqlite");
  Ledger(path).add(report("first", "", 0), "2026-11-01T00:00:00Z");
  std::size_t acknowledged = 1;
  for (int round = 0; round < 12; ++round) {
    int pipe_fd[2];
    ASSERT_EQ(::pipe(pipe_fd), 0);
    const pid_t child = ::fork();
    if (child == 0) {
      Ledger ledger(path);
      for (int k = 0;; ++k) {
        ledger.add(report("v" + std::to_string(round), "", k), "2026-11-01T00:00:00Z");
        if (::write(pipe_fd[1], "x", 1) != 1) ::_exit(1);
      }
    }
    ::close(pipe_fd[1]);
    char c = 0;
    for (int k = 0; k < 2 + round; ++k)
      if (::read(pipe_fd[0], &c, 1) == 1) ++acknowledged;
    ::usleep(static_cast<useconds_t>(137 * round));
    ::kill(child, SIGKILL);
    while (::read(pipe_fd[0], &c, 1) == 1) ++acknowledged;
    ::close(pipe_fd[0]);
    int status = 0;
    ::waitpid(child, &status, 0);
    const std::size_t kept = Ledger(path).list().size();
    EXPECT_GE(kept, acknowledged);
    EXPECT_LE(kept, acknowledged + 1);  // written, and killed before it could say so
    acknowledged = kept;
  }
  const Ledger ledger(path);
  for (const LedgerEntry& entry : ledger.list()) EXPECT_NO_THROW((void)ledger.show(entry.id));
}

TEST(LedgerCommand, AddListTrendExport) {
  const Folder folder;
  const std::string file = folder.at("l.sqlite");
  std::ofstream(folder.at("a.pb"), std::ios::binary)
      << to_wire(report("Merganser, \"1984\"", "2026-03-01", 4.5));
  std::ofstream(folder.at("b.pb"), std::ios::binary)
      << to_wire(report("Merganser, \"1984\"", "2026-04-01", 0.5));
  EXPECT_EQ(run({"ledger", "add", folder.at("a.pb"), folder.at("b.pb"), "--ledger", file}).status,
            0);
  EXPECT_NE(run({"ledger", "add", folder.at("a.pb"), "--ledger", file}).out.find("already"),
            std::string::npos);
  EXPECT_EQ(lines(run({"ledger", "list", "--ledger", file}).out), 2U);
  const Ran trend =
      run({"ledger", "trend", "decay_rate", "--ledger", file, "--svg", folder.at("t.svg")});
  EXPECT_EQ(trend.status, 0) << trend.err;
  EXPECT_LT(trend.out.find("2026-03-01"), trend.out.find("2026-04-01"));
  EXPECT_NE(read_file(folder.at("t.svg")).find("<svg"), std::string::npos);
  const Ran csv = run({"ledger", "export", "--ledger", file});
  EXPECT_NE(csv.out.find("\"Merganser, \"\"1984\"\"\""), std::string::npos);  // RFC 4180, 2.7
  EXPECT_EQ(lines(csv.out), 3U);
  EXPECT_EQ(run({"ledger", "trend", "nothing", "--ledger", file}).status, 65);
  EXPECT_EQ(run({"ledger", "add", folder.at("no.pb"), "--ledger", file}).status, 66);
  EXPECT_EQ(run({"ledger", "--ledger", file}).status, 64);
}

}  // namespace
}  // namespace airlatch
