// SPDX-License-Identifier: GPL-3.0-or-later
// airlatch replay from the outside: what it prints, its exit statuses, its one line of complaint.
#include <gtest/gtest.h>

#include <algorithm>

#include "decoders/event.hpp"
#include "plugin/rehearse/rehearsal.hpp"
#include "plugin/rehearse/write.hpp"
#include "tests/support/oracle.hpp"
#include "tests/support/program.hpp"

namespace airlatch {
namespace {
using namespace test;

class Replay : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    folder = new Folder;
    const Rehearsal r = rehearse({.fault = "line-leak", .rate_hz = 2000, .seed = 21, .hold_s = 6});
    write_session(folder->at("x.sr"), r);
    write_csv(folder->at("x.csv"), r);
    write_csv(folder->at("comma.csv"), r, {.separator = ';', .decimal_comma = true, .digits = 6});
    write_rig(folder->at("x.rig"), r);
  }
  static void TearDownTestSuite() { delete folder; }
  static std::string at(const std::string& name) { return folder->at(name); }
  static Folder* folder;
};
Folder* Replay::folder = nullptr;

void expect_refused(const Ran& ran, int status, const std::string& says) {
  EXPECT_EQ(ran.status, status) << ran.err;
  EXPECT_EQ(ran.out, "");
  EXPECT_EQ(lines(ran.err), 1U) << ran.err;
  EXPECT_NE(ran.err.find(says), std::string::npos) << ran.err;
}

std::vector<Event> events_of(const std::string& text) {
  std::vector<Event> out;
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);) {
    Event event;
    EXPECT_TRUE(event_of_json(line, event)) << line;
    out.push_back(event);
  }
  return out;
}

TEST_F(Replay, SummaryInPlainWords) {
  const Ran ran = run({"replay", at("x.sr"), "--rig", at("x.rig")});
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_EQ(ran.err, "");
  for (const char* words : {"motor starts, blowing", "pump cuts off by itself",
                            "direction reversed", "line left alone", "kPa/min", "Runs", "±"})
    EXPECT_NE(ran.out.find(words), std::string::npos) << words;
}

TEST_F(Replay, EventsToStdoutAndNothingElse) {
  const Ran ran = run({"replay", at("x.sr"), "--rig", at("x.rig"), "--events", "-"});
  EXPECT_EQ(ran.status, 0);
  const auto events = events_of(ran.out);
  EXPECT_GE(events.size(), 10U);
  EXPECT_EQ(lines(ran.out), events.size());
}

TEST_F(Replay, OptionsBeforeOrAfter) {
  const Ran a = run({"replay", "--events", "-", at("x.sr")}),
            b = run({"replay", at("x.sr"), "--events", "-"});
  EXPECT_EQ(a.status, 0) << a.err;
  EXPECT_EQ(a.out, b.out);
}

// Session, text, text with decimal commas and stdin: the same events to the text's six digits.
TEST_F(Replay, EveryFormatGivesTheSame) {
  const auto session =
      events_of(run({"replay", at("x.sr"), "--rig", at("x.rig"), "--events", "-"}).out);
  for (const auto& ran :
       {run({"replay", at("x.csv"), "--rig", at("x.rig"), "--events", "-"}),
        run({"replay", at("comma.csv"), "--rig", at("x.rig"), "--events", "-"}),
        run({"replay", "-", "--rig", at("x.rig"), "--events", "-"}, "", at("x.csv"))}) {
    const auto other = events_of(ran.out);
    ASSERT_EQ(other.size(), session.size()) << ran.err;
    for (std::size_t k = 0; k < other.size(); ++k) {
      EXPECT_EQ(other[k].kind, session[k].kind);
      // Where a decay's window begins depends on a fit.
      EXPECT_NEAR(other[k].time_s, session[k].time_s,
                  session[k].kind == Kind::LEAK_DECAY ? session[k].time_u_s : 1e-5);
      ASSERT_EQ(std::ssize(other[k].measures), std::ssize(session[k].measures));
      for (int m = 0; m < std::ssize(other[k].measures); ++m)
        EXPECT_NEAR(other[k].measures[m].value, session[k].measures[m].value,
                    1e-4 * std::abs(session[k].measures[m].value) + 1e-4);
    }
  }
}

TEST_F(Replay, EventFileAndQuiet) {
  const Ran ran = run({"replay", at("x.sr"), "--quiet", "--events", at("e.jsonl")});
  EXPECT_EQ(ran.status, 0);
  EXPECT_EQ(ran.out + ran.err, "");
  EXPECT_GE(events_of(read_file(at("e.jsonl"))).size(), 10U);
}

TEST_F(Replay, BadUsageIs64) {
  expect_refused(run({"replay"}), 64, "CAPTURE");
  expect_refused(run({"replay", at("x.sr"), "--nonsense"}), 64, "--nonsense");
  expect_refused(run({"replay", at("x.sr"), "--rate", "fast"}), 64, "--rate");
  expect_refused(run({"reply", at("x.sr")}), 64, "");
  expect_refused(run({}), 64, "");
}

TEST_F(Replay, BadInputIs65And66) {
  expect_refused(run({"replay", at("none.sr")}), 66, "none.sr");
  expect_refused(run({"replay", at("")}), 65, "folder");
  expect_refused(run({"replay", folder->write("empty.sr", "")}), 65, "empty");
  expect_refused(run({"replay", folder->write("letter.sr", "Dear all,\nhello\n")}), 65,
                 "letter.sr");
  expect_refused(run({"replay", folder->write("nonames.csv", "time,x,y\n0,1,2\n1,2,3\n")}), 65,
                 "role: LINE_PRESSURE");
  expect_refused(run({"replay", at("x.sr"), "--rig", at("none.rig")}), 66, "none.rig");
  expect_refused(run({"replay", at("x.sr"), "--rig", folder->write("bad.rig", "chanel {}\n")}), 65,
                 "line 1");
  expect_refused(run({"replay", at("x.sr"), "--plan", folder->write("bad.plan", "step: 3\n")}), 65,
                 "line 1");
}

// What is sound before a bad cell is summed up, and events say where it ends.
TEST_F(Replay, ABadCellEndsWhatIsDecoded) {
  std::string text = read_file(at("x.csv"));
  const std::size_t row = text.find('\n', text.size() * 9 / 10), cell = text.find(',', row) + 1;
  const auto line =
      2 + std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(row), '\n');
  text.replace(cell, text.find_first_of(",\n", cell) - cell, "4x.15");
  const std::string path = folder->write("bad.csv", text);
  const Ran summed = run({"replay", path});
  EXPECT_EQ(summed.status, 65);
  EXPECT_EQ(lines(summed.err), 1U) << summed.err;
  EXPECT_NE(summed.err.find("line " + std::to_string(line) + ", column 2: '4x.15' is not a number"),
            std::string::npos)
      << summed.err;
  EXPECT_NE(summed.out.find("pump cuts off by itself"), std::string::npos) << summed.out;
  const auto events = events_of(run({"replay", path, "--events", "-"}).out);
  const auto whole = events_of(run({"replay", at("x.csv"), "--events", "-"}).out);
  ASSERT_FALSE(events.empty());
  EXPECT_EQ(events.back().kind, Kind::GAP);
  ASSERT_EQ(events.back().missing.size(), 1U);
  EXPECT_EQ(events.back().missing[0].code, MissingCode::CUT_SHORT);
  EXPECT_NE(events.back().missing[0].text.find("4x.15"), std::string::npos);
  for (std::size_t k = 0; k < 5; ++k) EXPECT_EQ(events[k].time_s, whole[k].time_s);
}

TEST_F(Replay, ALastRowWithoutItsLineEndIsRemarked) {
  const std::string whole = read_file(at("x.csv"));
  const Ran ran = run({"replay", folder->write("open.csv", whole.substr(0, whole.size() - 2))});
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_NE(ran.out.find("has no line end: it may be cut short and is not used"),
            std::string::npos);
  EXPECT_EQ(run({"replay", at("x.csv")}).out.find("line end"), std::string::npos);
}

// A channel of length zero is as good as none, and is told.
TEST_F(Replay, AChannelWithoutSamplesIsNotMeasured) {
  std::string all =
      "[device 1]\nsamplerate=2 kHz\ntotal analog=3\nanalog1=motor_a\n"
      "analog2=feed_a_v\nanalog3=line_kpa\n";
  std::vector<float> motor(8000), feed(8000);
  for (std::size_t k = 2000; k < 6000; ++k)
    motor[k] = 4 + static_cast<float>(k % 7) * 0.01F, feed[k] = 12;
  write_zip(at("empty.sr"), {{"version", "2"},
                             {"metadata", all},
                             {"analog-1-1-1", floats(motor)},
                             {"analog-1-2-1", floats(feed)},
                             {"analog-1-3-1", ""}});
  const Ran ran = run({"replay", at("empty.sr")});
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_NE(ran.out.find("'line_kpa' (LINE_PRESSURE) holds no samples"), std::string::npos)
      << ran.out;
  for (const Event& event : events_of(run({"replay", at("empty.sr"), "--events", "-"}).out))
    for (const auto& missing : event.missing)
      if (missing.measure == "end_pressure") {
        EXPECT_EQ(missing.code, MissingCode::NO_CHANNEL);
      }
}

TEST_F(Replay, ACaptureThatIsCutIsDecodedAndReported) {
  const std::string whole = read_file(at("x.csv"));
  const std::string cut = folder->write("cut.csv", whole.substr(0, whole.size() - 15));
  const Ran ran = run({"replay", cut, "--events", "-"});
  EXPECT_EQ(ran.status, 65);
  EXPECT_EQ(lines(ran.err), 1U) << ran.err;
  EXPECT_NE(ran.err.find("cut short"), std::string::npos);
  const auto events = events_of(ran.out);
  ASSERT_GE(events.size(), 10U);
  EXPECT_TRUE(std::any_of(events.begin(), events.end(), [](const Event& event) {
    return event.kind == Kind::GAP && std::ssize(event.measures) == 0;
  }));
}

TEST_F(Replay, WritesThatFail) {
  expect_refused(run({"replay", at("x.sr"), "--quiet", "--events", "/nonexistent/e.jsonl"}), 73,
                 "/nonexistent/e.jsonl");
  const Ran full = run({"replay", at("x.sr"), "--events", "-"}, "/dev/full");
  EXPECT_EQ(full.status, 74);
  EXPECT_EQ(lines(full.err), 1U) << full.err;
}

TEST_F(Replay, AReaderThatLeavesEarlyIsNoError) {
  const std::string program = AIRLATCH_BINARY_DIR "/plugin/host/airlatch";
  for (const char* options : {"--events -", ""}) {
    const std::string command = "bash -c 'set -o pipefail; " + program + " replay " + at("x.sr") +
                                " " + options + " 2>" + at("err") + " | head -1 >/dev/null'";
    EXPECT_EQ(std::system(command.c_str()), 0);
    EXPECT_EQ(read_file(at("err")), "");
  }
}

// Standard input that is closed, or a pipe nobody wrote to.
TEST_F(Replay, ClosedInput) {
  const std::string program = AIRLATCH_BINARY_DIR "/plugin/host/airlatch";
  for (const char* input : {"<&-", "</dev/null"}) {
    const int status = std::system(
        ("bash -c '" + program + " replay - " + input + " >/dev/null 2>" + at("err") + "'")
            .c_str());
    EXPECT_TRUE(WEXITSTATUS(status) == 65 || WEXITSTATUS(status) == 74) << WEXITSTATUS(status);
    EXPECT_EQ(lines(read_file(at("err"))), 1U);
  }
}

TEST_F(Replay, StrictTurnsAFaultIntoOne) {
  const Rehearsal dead = rehearse({.fault = "motor-open", .rate_hz = 1000, .seed = 22});
  write_session(at("dead.sr"), dead);
  EXPECT_EQ(run({"replay", at("dead.sr"), "--quiet"}).status, 0);
  EXPECT_EQ(run({"replay", at("dead.sr"), "--quiet", "--strict"}).status, 1);
  EXPECT_EQ(run({"replay", at("x.sr"), "--rig", at("x.rig"), "--quiet", "--strict"}).status, 1);
  write_session(at("sound.sr"), rehearse({.fault = "sound", .rate_hz = 1000, .seed = 23}));
  EXPECT_EQ(run({"replay", at("sound.sr"), "--quiet", "--strict"}).status, 0);
}

TEST_F(Replay, HelpAndVersion) {
  for (const auto& arguments : std::vector<std::vector<std::string>>{
           {"--help"}, {"-h"}, {"replay", "--help"}, {"rehearse", "-h"}, {"--version"}}) {
    const Ran ran = run(arguments);
    EXPECT_EQ(ran.status, 0);
    EXPECT_NE(ran.out, "");
    EXPECT_EQ(ran.err, "");
  }
  EXPECT_NE(run({"--help"}).out.find("fused lead"), std::string::npos);  // the cautions
}

}  // namespace
}  // namespace airlatch
