// SPDX-License-Identifier: GPL-3.0-or-later
// Outputs that are inputs, other outputs, another job's report, or no regular files: for every
// command, every input it reads against every output it writes, through every kind of link.
#include <fcntl.h>
#include <gtest/gtest.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <unistd.h>

#include <filesystem>
#include <functional>
#include <thread>

#include "tests/hostile/trial.hpp"
#include "tests/support/files.hpp"

namespace airlatch::hostile {
namespace {
namespace fs = std::filesystem;
using test::Folder;
using test::read_file;

// A command with all its files by the names they have in a bench's folder.
struct Command {
  const char* name;
  std::vector<std::string> arguments;  // "@NAME" is a file of the folder
  std::vector<std::string> inputs;
  std::vector<std::string> outputs;  // options that name a file
  std::string report;                // the option of a report's folder; empty: it has none
};

const std::vector<Command>& commands() {
  static const std::vector<Command> all = {
      {"replay",
       {"replay", "@a.sr", "--rig", "@a.rig", "--plan", "@a.plan", "--quiet"},
       {"a.sr", "a.rig", "a.plan"},
       {"--events"},
       "--report"},
      {"report",
       {"report", "@a.job", "--plan", "@a.plan", "--quiet"},
       {"a.job", "a.plan", "a.sr", "b.sr", "a.rig"},
       {},
       "--report"},
      {"compare",
       {"compare", "@a.sr", "@b.sr", "--rig", "@a.rig", "--plan", "@a.plan"},
       {"a.sr", "b.sr", "a.rig", "a.plan"},
       {},
       "--report"},
      {"compare reports",
       {"compare", "@kept/report.pb", "@kept/report.json"},
       {"kept/report.pb", "kept/report.json"},
       {},
       "--report"},
      {"export csv", {"export", "@a.sr", "--to", "csv"}, {"a.sr"}, {"--out"}, ""},
      {"export sr", {"export", "@a.sr", "--to", "sr"}, {"a.sr"}, {"--out"}, ""},
      {"rig", {"rig", "@a.sr", "--rig", "@a.rig"}, {"a.sr", "a.rig"}, {"--out"}, ""},
      {"ledger add", {"ledger", "add", "@kept/report.pb"}, {"kept/report.pb"}, {"--ledger"}, ""},
      {"ledger trend",
       {"ledger", "trend", "run_time", "--ledger", "@ledger"},
       {"ledger"},
       {"--svg"},
       ""},
      {"ledger export", {"ledger", "export", "--ledger", "@ledger"}, {"ledger"}, {"--out"}, ""},
      {"capture",
       {"capture", "demo:samplerate=1000", "--rig", "@a.rig", "--plan", "@a.plan", "--seconds", "1",
        "--quiet"},
       {"a.rig", "a.plan"},
       {"--record", "--events"},
       "--report"},
  };
  return all;
}

// What a workshop's folder holds.
class Bench {
 public:
  Bench() {
    const std::string from = AIRLATCH_SOURCE_DIR "/captures/";
    fs::copy_file(from + "line-leak.sr", at("a.sr"));
    fs::copy_file(from + "sound.sr", at("b.sr"));
    fs::copy_file(from + "line-leak.rig", at("a.rig"));
    folder_.write("a.plan", "name: \"p\" step { id: \"s\" expect: STALL_CUTOFF }\n");
    folder_.write("a.job",
                  "vehicle: \"Merganser estate\" job_number: \"S-1\"\n"
                  "capture { file: \"a.sr\" phase: BEFORE rig: \"a.rig\" }\n"
                  "capture { file: \"b.sr\" phase: AFTER rig: \"a.rig\" }\n");
    must({"report", at("a.job"), "--report", at("kept"), "--quiet"});
    must({"ledger", "add", at("kept/report.pb"), "--ledger", at("ledger")});
  }
  [[nodiscard]] std::string at(const std::string& name) const { return folder_.at(name); }
  [[nodiscard]] std::vector<std::string> of(const Command& command) const {
    std::vector<std::string> out = command.arguments;
    for (std::string& argument : out)
      if (argument.starts_with('@')) argument = at(argument.substr(1));
    return out;
  }
  // All files and what they hold.
  [[nodiscard]] std::map<std::string, std::string> content() const {
    std::map<std::string, std::string> out;
    for (const auto& entry : fs::recursive_directory_iterator(at("")))
      if (entry.is_regular_file()) out[entry.path().string()] = read_file(entry.path().string());
    return out;
  }

 private:
  static void must(const std::vector<std::string>& arguments) {
    ASSERT_EQ(run_trial(arguments).status, 0) << arguments[0];
  }
  Folder folder_;
};

std::vector<std::string> with(std::vector<std::string> arguments,
                              const std::vector<std::string>& more) {
  arguments.insert(arguments.end(), more.begin(), more.end());
  return arguments;
}

// Ways to name a file otherwise.
const std::vector<std::function<std::string(const Bench&, const std::string&)>> kNames = {
    [](const Bench& bench, const std::string& input) { return bench.at(input); },
    [](const Bench& bench, const std::string& input) { return bench.at("./kept/../" + input); },
    [](const Bench& bench, const std::string& input) {
      fs::create_symlink(bench.at(input), bench.at("soft"));
      fs::create_symlink("soft", bench.at("softer"));
      return bench.at("softer");
    },
    [](const Bench& bench, const std::string& input) {
      fs::create_hard_link(bench.at(input), bench.at("hard"));
      return bench.at("hard");
    }};

void forget_links(const Bench& bench) {
  for (const char* name : {"soft", "softer", "hard"}) fs::remove(bench.at(name));
}

// The trial must be refused with 73, say both names, and leave everything as it was.
void expect_refused(Tally& tally, const Bench& bench, const std::vector<std::string>& arguments,
                    const std::string& both, const std::string& what) {
  const auto before = bench.content();
  const Trial trial = run_trial(arguments);
  tally.count(trial, what);
  EXPECT_EQ(trial.status, 73) << what << "\n" << trial.err;
  EXPECT_NE(trial.err.find(both), std::string::npos) << what << "\n" << trial.err;
  if (bench.content() != before) tally.lost(what + ": a file changed");
}

TEST(Outputs, NoneIsAnInput) {
  Tally tally("outputs: an input");
  const Bench bench;
  for (const Command& command : commands())
    for (const std::string& input : command.inputs)
      for (std::size_t way = 0; way < kNames.size(); ++way) {
        const std::string what =
            std::string(command.name) + " onto " + input + ", way " + std::to_string(way);
        const std::string output = kNames[way](bench, input);
        for (const std::string& option : command.outputs)
          expect_refused(tally, bench, with(bench.of(command), {option, output}),
                         fs::path(input).filename().string(), what + " by " + option);
        if (!command.report.empty()) {
          fs::create_directory(bench.at("other"));
          fs::create_symlink(output, bench.at("other/report.html"));
          expect_refused(tally, bench, with(bench.of(command), {command.report, bench.at("other")}),
                         fs::path(input).filename().string(), what + " by a report");
          fs::remove_all(bench.at("other"));
        }
        forget_links(bench);
      }
}

TEST(Outputs, StandardInputAndOutputAreFilesToo) {
  Tally tally("outputs: standard ones");
  const Bench bench;
  {
    const std::string text = "time_s,line_kpa\n0,1\n1,2\n2,3\n";
    std::ofstream(bench.at("in.csv")) << text;
    const Trial trial =
        run_trial({"replay", "-", "--events", bench.at("in.csv")}, bench.at("in.csv"));
    tally.count(trial, "standard input");
    EXPECT_EQ(trial.status, 73) << trial.err;
    if (read_file(bench.at("in.csv")) != text) tally.lost("standard input");
  }
}

TEST(Outputs, NoTwoAreOne) {
  Tally tally("outputs: two in one");
  const Bench bench;
  const std::string there = bench.at("there"), link = bench.at("link");
  std::ofstream(there) << "kept\n";
  fs::create_symlink("new", link);  // not there yet, by two names
  const auto refused = [&](const std::vector<std::string>& arguments, const std::string& name) {
    expect_refused(tally, bench, arguments, name, arguments[0] + " onto " + name);
  };
  const std::vector<std::string> replay = {"replay", bench.at("a.sr"), "--quiet"};
  refused(with(replay, {"--events", bench.at("r/report.pb"), "--report", bench.at("r")}),
          "report.pb");
  refused(with(replay, {"--events", bench.at("r"), "--report", bench.at("r")}), "r");
  const std::vector<std::string> rehearse = {"rehearse", "sound", "--rate", "1000",
                                             "--hold",   "1",     "--quiet"};
  for (const char* option : {"--truth", "--rig-out"}) {
    refused(with(rehearse, {"--out", there, option, there}), "there");
    refused(with(rehearse, {"--out", bench.at("new"), option, link}), "new");
  }
  refused(with(rehearse, {"--out", bench.at("new"), "--truth", there, "--rig-out", there}),
          "there");
  refused({"capture", "demo:samplerate=1000", "--seconds", "1", "--quiet", "--record",
           bench.at("new"), "--events", link},
          "new");
}

TEST(Outputs, AnotherJobsReportStays) {
  Tally tally("outputs: another report");
  const Bench bench;
  const std::vector<std::string> other = {"replay", bench.at("b.sr"), "--quiet", "--report",
                                          bench.at("kept")};
  expect_refused(tally, bench, other, "kept", "replay onto a job's report");
  expect_refused(tally, bench,
                 {"compare", bench.at("a.sr"), bench.at("b.sr"), "--report", bench.at("kept")},
                 "kept", "compare onto a job's report");
  expect_refused(tally, bench,
                 {"capture", "demo:samplerate=1000", "--seconds", "1", "--quiet", "--no-record",
                  "--report", bench.at("kept")},
                 "kept", "capture onto a job's report");
  const auto before = bench.content();
  EXPECT_EQ(run_trial({"report", bench.at("a.job"), "--report", bench.at("kept")}).status, 0)
      << "the same job";
  EXPECT_EQ(run_trial(with(other, {"--force"})).status, 0);
  EXPECT_NE(bench.content(), before);
  EXPECT_EQ(run_trial(other).status, 0) << "the same capture";
}

TEST(Outputs, AReportIsThereWholeOrNotAtAll) {
  Tally tally("outputs: in the way");
  const Bench bench;
  const std::vector<std::string> replay = {"replay", bench.at("a.sr"), "--quiet", "--report"};
  for (const char* name : {"report.pb", "report.json", "report.html", "report.pdf"}) {
    const std::string folder = bench.at("way"), in_the_way = folder + "/" + name;
    fs::create_directories(in_the_way);
    expect_refused(tally, bench, with(replay, {folder}), name, std::string("a folder at ") + name);
    fs::remove_all(folder);
    fs::create_directory(folder);
    ASSERT_EQ(::mkfifo(in_the_way.c_str(), 0600), 0);
    expect_refused(tally, bench, with(replay, {folder, "--force"}), name,
                   std::string("a pipe at ") + name);
    fs::remove_all(folder);
  }
}

// What is read from a pipe at which the program writes.
std::string caught(const std::string& fifo, const std::function<void()>& write) {
  std::string out;
  std::thread reader([&] { out = read_file(fifo); });
  write();
  // Nobody wrote: let the reader see an end.
  const int end = ::open(fifo.c_str(), O_WRONLY | O_NONBLOCK);
  if (end >= 0) ::close(end);
  reader.join();
  return out;
}

TEST(Outputs, WhatIsNoFileIsWrittenToAndStays) {
  Tally tally("outputs: special files");
  const Bench bench;
  struct Writer {
    std::vector<std::string> arguments;
    std::string option;
  };
  const std::vector<Writer> writers = {
      {{"replay", bench.at("a.sr"), "--quiet"}, "--events"},
      {{"export", bench.at("a.sr"), "--to", "csv"}, "--out"},
      {{"export", bench.at("a.sr"), "--to", "sr"}, "--out"},
      {{"rig", bench.at("a.sr")}, "--out"},
      {{"ledger", "export", "--ledger", bench.at("ledger")}, "--out"},
      {{"ledger", "trend", "run_time", "--ledger", bench.at("ledger")}, "--svg"},
      {{"rehearse", "sound", "--rate", "1000", "--hold", "1", "--quiet", "--out",
        bench.at("made.csv")},
       "--truth"},
      {{"rehearse", "sound", "--rate", "1000", "--hold", "1", "--quiet", "--out",
        bench.at("made.csv")},
       "--rig-out"},
      {{"rehearse", "sound", "--rate", "1000", "--hold", "1", "--quiet"}, "--out"}};
  for (const Writer& writer : writers) {
    const std::string name = writer.arguments[0] + " " + writer.option;
    const std::string file = bench.at("plain"), fifo = bench.at("fifo"), device = bench.at("null");
    const Trial plain = run_trial(with(writer.arguments, {writer.option, file}));
    EXPECT_EQ(plain.status, 0) << name << plain.err;
    ASSERT_EQ(::mkfifo(fifo.c_str(), 0600), 0);
    const std::string got = caught(fifo, [&] {
      tally.count(run_trial(with(writer.arguments, {writer.option, fifo})), name + " to a pipe");
    });
    if (got != read_file(file)) tally.lost(name + ": a pipe got " + std::to_string(got.size()));
    EXPECT_TRUE(fs::is_fifo(fifo)) << name;
    // A device of our own: what replaced it would not harm the machine's.
    if (::mknod(device.c_str(), S_IFCHR | 0600, makedev(1, 3)) == 0) {
      tally.count(run_trial(with(writer.arguments, {writer.option, device})),
                  name + " to a device");
      if (!fs::is_character_file(device)) tally.lost(name + ": the device was replaced");
      fs::remove(device);
      ASSERT_EQ(::mknod(device.c_str(), S_IFCHR | 0600, makedev(1, 7)), 0);  // always full
      const Trial full = run_trial(with(writer.arguments, {writer.option, device}));
      tally.count(full, name + " to a full device");
      EXPECT_EQ(full.status, 74) << name << full.err;
      if (!fs::is_character_file(device)) tally.lost(name + ": the full device was replaced");
      fs::remove(device);
    }
    fs::remove(fifo);
    fs::remove(file);
  }
}

// A pipe is read once: what was decoded is what was hashed.
TEST(Outputs, ThePipesHashIsThatOfItsBytes) {
  Tally tally("outputs: hash of a pipe");
  const Bench bench;
  const std::string csv = AIRLATCH_SOURCE_DIR "/captures/cutoff-missing.csv";
  const std::string fifo = bench.at("capture");
  ASSERT_EQ(::mkfifo(fifo.c_str(), 0600), 0);
  std::thread writer([&] { std::ofstream(fifo) << read_file(csv); });
  tally.count(run_trial({"replay", fifo, "--quiet", "--report", bench.at("piped")}), "a pipe");
  writer.join();
  tally.count(run_trial({"replay", csv, "--quiet", "--report", bench.at("direct")}), "a file");
  const auto hash = [&](const char* folder) {
    const std::string json = read_file(bench.at(folder) + "/report.json");
    return json.substr(json.find("\"sha256\""), 80);
  };
  EXPECT_EQ(hash("piped"), hash("direct"));
}

}  // namespace
}  // namespace airlatch::hostile
