// SPDX-License-Identifier: GPL-3.0-or-later
// System calls that fail: for every command, the n-th read, write, rename ... or allocation fails
// (fault_shim.c). What comes of it is what comes of it without the fault, to the byte, or a refusal
// with a status of the contract and one clear line; nothing under a final name is half written, no
// input is changed, and what the ledger said it kept is there.
#include <gtest/gtest.h>

#include <algorithm>
#include <cerrno>
#include <cmath>
#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <random>

#include "plugin/recorder/mcap_writer.hpp"
#include "tests/hostile/trial.hpp"
#include "tests/support/files.hpp"

namespace airlatch::hostile {
namespace {
namespace fs = std::filesystem;
using test::Folder;
using test::read_file;

constexpr std::uint64_t kSeed = 20260311;

struct Call {
  const char* name;
  std::vector<int> errors;
};
const std::vector<Call> kCalls = {
    {"read", {EIO, EINTR}},     {"pread", {EIO, EINTR}}, {"write", {ENOSPC, EIO, EINTR}},
    {"pwrite", {ENOSPC, EIO}},  {"fsync", {EIO}},        {"rename", {EIO, EACCES}},
    {"open", {EMFILE, EACCES}}, {"close", {EIO, EINTR}}, {"ftruncate", {EIO}},
    {"mmap", {ENOMEM}},         {"malloc", {ENOMEM}},    {"stat", {EIO}},
    {"unlink", {EIO}}};

// A command; "@NAME" is an input, "%NAME" an output of the trial.
struct Subject {
  const char* name;
  std::vector<std::string> arguments;
  std::vector<std::string> whole = {};  // outputs that are there whole or not at all
  std::vector<std::string> lines = {};  // outputs that may end early, after a whole line
  bool report = false;                  // in the folder %report
  const char* input = "";               // for standard input
};

std::vector<Subject> subjects() {
  const std::vector<std::string> more = {"--quiet", "--events", "%events", "--report", "%report"};
  std::vector<Subject> out;
  for (const char* capture : {"@a.sr", "@a.csv", "@a.wav", "@a.mcap"}) {
    Subject replay{capture, {"replay", capture, "--rig", "@a.rig"}, {}, {"events"}, true};
    replay.arguments.insert(replay.arguments.end(), more.begin(), more.end());
    out.push_back(replay);
  }
  out.push_back({"report", {"report", "@a.job", "--report", "%report", "--quiet"}, {}, {}, true});
  out.push_back({"compare", {"compare", "@a.sr", "@a.csv", "--report", "%report"}, {}, {}, true});
  for (const char* capture : {"@a.sr", "@a.csv", "@a.wav", "@a.mcap"})
    out.push_back({"export", {"export", capture, "--to", "csv", "--out", "%out"}, {"out"}});
  out.push_back({"export sr", {"export", "@a.csv", "--to", "sr", "--out", "%out"}, {"out"}});
  out.push_back({"rig", {"rig", "@a.csv", "--out", "%out"}, {"out"}});
  out.push_back({"ledger add", {"ledger", "add", "@kept/report.pb", "--ledger", "%ledger"}});
  out.push_back(
      {"ledger export", {"ledger", "export", "--ledger", "@ledger", "--out", "%out"}, {"out"}});
  out.push_back({"ledger trend",
                 {"ledger", "trend", "run_time", "--ledger", "@ledger", "--svg", "%out"},
                 {"out"}});
  out.push_back({"ledger list", {"ledger", "list", "--ledger", "@ledger"}});
  out.push_back({"pipe", {"pipe"}, {}, {}, false, "@a.jsonl"});
  for (const char* name : {"%made.csv", "%made.sr"})
    out.push_back({"rehearse",
                   {"rehearse", "sound", "--rate", "500", "--hold", "1", "--quiet", "--out", name,
                    "--truth", "%truth", "--rig-out", "%rig"},
                   {name + 1, "truth", "rig"}});
  return out;
}

std::string little(std::uint32_t value, int bytes) {
  std::string out;
  for (int k = 0; k < bytes; ++k) out += static_cast<char>(value >> (8 * k) & 0xff);
  return out;
}

std::string wav(const std::vector<float>& values) {
  std::string data;
  for (const float v : values)
    data += little(static_cast<std::uint16_t>(static_cast<std::int16_t>(v * 100)), 2);
  const auto size = static_cast<std::uint32_t>(data.size());
  return "RIFF" + little(36 + size, 4) + "WAVEfmt " + little(16, 4) + little(1, 2) + little(1, 2) +
         little(1000, 4) + little(2000, 4) + little(2, 2) + little(16, 2) + "data" +
         little(size, 4) + data;
}

// A line that is pumped up and leaks, in every format.
class Inputs {
 public:
  Inputs() {
    for (const char* name : {"a.csv", "a.sr"})
      must({"rehearse", "line-leak", "--rate", "1000", "--hold", "4", "--quiet", "--out",
            folder_.at(name), "--rig-out", folder_.at("made.rig")});
    std::vector<float> pressure;
    std::string lines;
    for (int k = 0; k < 6000; ++k) {
      pressure.push_back(
          static_cast<float>(k < 2000 ? 0.02 * k : 40 * std::exp(-(k - 2000) / 3e4)));
      if (k % 10 == 0)
        lines += "{\"channel\":\"line_kpa\",\"time_s\":" + std::to_string(k * 1e-3) +
                 ",\"value\":" + std::to_string(pressure.back()) + "}\n";
    }
    folder_.write("a.wav", wav(pressure));
    folder_.write("a.jsonl", lines);
    folder_.write("a.rig", "channel { source: \"CH1\" role: LINE_PRESSURE scale: 327.68 }\n");
    folder_.write("a.job", "vehicle: \"Merganser\"\ncapture { file: \"a.sr\" }\n");
    McapWriter writer(folder_.at("a.mcap"), {{"line_kpa", "kPa", false, 1000}}, {});
    writer.block({.channel = 0, .clock = SampleClock::of_rate(1000), .values = pressure});
    writer.tick(6);
    writer.close();
    must({"report", folder_.at("a.job"), "--report", folder_.at("kept"), "--quiet"});
    must({"ledger", "add", folder_.at("kept/report.pb"), "--ledger", folder_.at("ledger")});
    before_ = content();
  }
  [[nodiscard]] std::string at(const std::string& name) const { return folder_.at(name); }
  [[nodiscard]] bool changed() const { return content() != before_; }

 private:
  static void must(const std::vector<std::string>& arguments) {
    ASSERT_EQ(run_trial(arguments).status, 0) << arguments[0];
  }
  [[nodiscard]] std::map<std::string, std::string> content() const {
    std::map<std::string, std::string> out;
    for (const auto& entry : fs::recursive_directory_iterator(at("")))
      if (entry.is_regular_file()) out[entry.path().string()] = read_file(entry.path().string());
    return out;
  }
  Folder folder_;
  std::map<std::string, std::string> before_;
};

constexpr const char* kReportFiles[] = {"report/report.pb", "report/report.json",
                                        "report/report.html", "report/report.pdf"};

// One run of a subject, in a folder of its own.
class Attempt {
 public:
  Attempt(const Inputs& inputs, const Subject& subject, const std::string& fault)
      : subject_(subject) {
    std::vector<std::string> arguments = subject.arguments;
    for (std::string& argument : arguments) {
      if (argument.starts_with('@')) argument = inputs.at(argument.substr(1));
      if (argument.starts_with('%')) argument = folder_.at(argument.substr(1));
    }
    const std::string input = subject.input;
    trial_ = run_trial(arguments, input.empty() ? "/dev/null" : inputs.at(input.substr(1)), {},
                       {"LD_PRELOAD=" AIRLATCH_FAULT_SHIM, "AIRLATCH_FAULT=" + fault,
                        "AIRLATCH_FAULT_COUNT=" + count_.at("count")});
  }
  [[nodiscard]] const Trial& trial() const { return trial_; }
  [[nodiscard]] long calls() const { return std::atol(read_file(count_.at("count")).c_str()); }
  [[nodiscard]] bool has(const std::string& name) const { return fs::exists(folder_.at(name)); }
  [[nodiscard]] std::string of(const std::string& name) const {
    return read_file(folder_.at(name));
  }
  [[nodiscard]] bool has_leftovers() const {
    for (const auto& entry : fs::recursive_directory_iterator(folder_.at("")))
      if (entry.path().filename().string().find(".part-") != std::string::npos) return true;
    return false;
  }
  // The reports that a ledger made here holds; -1: it cannot be read.
  [[nodiscard]] long kept() const {
    if (!has("ledger")) return 0;
    const Trial list = run_trial({"ledger", "list", "--ledger", folder_.at("ledger")});
    if (list.status != 0) return -1;
    return list.out.starts_with("No report") ? 0
                                             : std::count(list.out.begin(), list.out.end(), '\n');
  }

 private:
  const Subject& subject_;
  Folder folder_, count_;
  Trial trial_;
};

bool whole_lines_of(const std::string& part, const std::string& all) {
  return all.starts_with(part) && (part.empty() || part.back() == '\n');
}

// Pictures depend on what fonts were found; what ends as it should was written whole.
bool whole_report_file(const std::string& name, const std::string& is, const std::string& was) {
  if (name.ends_with("html")) return is.find("</html>") != std::string::npos;
  if (name.ends_with("pdf")) return is.find("%%EOF") != std::string::npos;
  return is == was;
}

// What is wrong with what the attempt left; empty: nothing.
std::string wrong(const Subject& subject, const Attempt& is, const Attempt& was,
                  bool without_memory) {
  const bool done = is.trial().status == 0;
  if (done && is.trial().out != was.trial().out && subject.arguments[0] != "compare")
    return "another text";
  if (!subject.report && !whole_lines_of(is.trial().out, was.trial().out)) return "half a text";
  for (const std::string& name : subject.whole)
    if ((done || is.has(name)) && is.of(name) != was.of(name)) return "half " + name;
  for (const std::string& name : subject.lines)
    if (done ? is.of(name) != was.of(name) : !whole_lines_of(is.of(name), was.of(name)))
      return "half " + name;
  if (subject.report) {
    std::size_t there = 0;
    for (const char* name : kReportFiles) {
      if (!is.has(name)) continue;
      ++there;
      const bool drawn = std::string(name) == "report/report.pdf";
      if (drawn && without_memory) continue;
      if (!whole_report_file(name, is.of(name), was.of(name))) return std::string("half ") + name;
    }
    if (there != (done ? 4 : there == 4 ? 4 : 0)) return "some of a report";
  }
  if (std::string(subject.name) == "ledger add") {
    const long kept = is.kept();
    if (kept < 0 || (kept == 0 && !is.trial().out.empty())) return "a report that was kept";
  }
  return "";
}

// The libraries that draw crash, wait for ever or leave out a stroke where they get no memory; the
// one that writes JSON allocates in a destructor, or says so itself. GLib, under the text's layout,
// ends the process where it gets none, and says so.
bool not_ours(const Subject& subject, const Call& call, const Trial& trial) {
  // What cannot be mapped is memory too, where GLib asks for it; elsewhere that is for us to bear.
  const bool draws = subject.report || std::string(subject.name) == "ledger trend";
  const bool fell = trial.status == 128 + SIGSEGV || trial.status == 128 + SIGKILL ||
                    trial.status == 128 + SIGABRT;
  const bool json =
      trial.status == 128 + SIGABRT && trial.err.find("bad_alloc") != std::string::npos;
  const bool glib =
      trial.status == 128 + SIGTRAP && trial.err.find("GLib-ERROR") != std::string::npos;
  if (std::string(call.name) == "mmap") return draws && glib;
  if (std::string(call.name) != "malloc") return false;
  return (draws && (fell || glib)) || json || trial.err.starts_with("[libprotobuf");
}

void try_one(Tally& tally, const Inputs& inputs, const Subject& subject, const Attempt& was,
             const Call& call, long n, int error) {
  const std::string fault =
      std::string(call.name) + ":" + std::to_string(n) + ":" + std::to_string(error);
  std::string what = subject.name;
  if (subject.arguments.size() > 1) what += " " + subject.arguments[1];
  what += ", " + fault;
  const Attempt is(inputs, subject, fault);
  if (not_ours(subject, call, is.trial())) return;
  tally.count(is.trial(), what);
  const std::string why = wrong(subject, is, was, error == ENOMEM);
  if (!why.empty()) tally.lost(what + ": " + why + "\n" + is.trial().err);
  const bool removal = std::string(call.name) == "unlink";
  if (is.has_leftovers() && !removal) tally.lost(what + ": a temporary file");
  // The data are good: it is the reading or writing that failed, or the memory. Only the database
  // takes a page that it cannot read for a damaged one.
  const bool database = is.trial().err.find("database disk image") != std::string::npos;
  if (is.trial().status == 65 && !database) {
    EXPECT_EQ(error, ENOMEM) << what << "\n" << is.trial().err;
  }
}

TEST(Faults, EndInARefusalOrTheRightResult) {
  Tally tally("faults");
  const Inputs inputs;
  std::mt19937_64 random(kSeed);
  for (const Subject& subject : subjects())
    for (const Call& call : kCalls) {
      const Attempt was(inputs, subject, std::string(call.name) + ":0:0");
      ASSERT_EQ(was.trial().status, 0) << subject.name << was.trial().err;
      const long calls = was.calls();
      ASSERT_GE(calls, 0);
      const long most = std::min<long>(calls, draws(1));
      for (long k = 0; k < most; ++k) {
        const long n = most == calls
                           ? k + 1
                           : 1 + static_cast<long>(random() % static_cast<unsigned long>(calls));
        try_one(tally, inputs, subject, was, call, n, call.errors[random() % call.errors.size()]);
      }
    }
  if (inputs.changed()) tally.lost("an input was changed");
}

}  // namespace
}  // namespace airlatch::hostile
