// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/rehearse/rehearsal.hpp"

#include <gtest/gtest.h>

#include <set>

#include "plugin/rehearse/faults.hpp"
#include "plugin/rehearse/write.hpp"
#include "tests/support/decode.hpp"
#include "tests/support/files.hpp"

namespace airlatch {
namespace {
using namespace test;

std::multiset<Kind> kinds(const char* fault) {
  std::multiset<Kind> out;
  for (const Event& event : rehearse({.fault = fault, .rate_hz = 1000, .seed = 3}).truth)
    out.insert(event.kind);
  return out;
}

TEST(Rehearsal, TheSameSeedGivesTheSameCapture) {
  const Rehearsal a = rehearse({.fault = "line-leak", .rate_hz = 500, .seed = 9}),
                  b = rehearse({.fault = "line-leak", .rate_hz = 500, .seed = 9}),
                  c = rehearse({.fault = "line-leak", .rate_hz = 500, .seed = 10});
  for (std::size_t k = 0; k < a.channels.size(); ++k)
    EXPECT_EQ(a.channels[k].values, b.channels[k].values);
  EXPECT_EQ(bytes(a.truth), bytes(b.truth));
  EXPECT_NE(bytes(a.truth), bytes(c.truth));
}

// The truth is the model's: neither the sampling rate nor the noise may move it.
TEST(Rehearsal, TruthDoesNotHangOnTheInstruments) {
  const auto slow = rehearse({.fault = "sound", .rate_hz = 100, .seed = 5});
  const auto fast = rehearse({.fault = "sound", .rate_hz = 20000, .seed = 5, .noise = 10});
  ASSERT_EQ(slow.truth.size(), fast.truth.size());
  for (std::size_t k = 0; k < slow.truth.size(); ++k) {
    EXPECT_EQ(slow.truth[k].kind, fast.truth[k].kind);
    EXPECT_NEAR(slow.truth[k].time_s, fast.truth[k].time_s, 25e-6);  // a step of the model
  }
}

TEST(Rehearsal, EveryFaultShowsWhatItIs) {
  EXPECT_EQ(kinds("sound").count(Kind::STALL_CUTOFF), 2U);
  EXPECT_EQ(kinds("sound").count(Kind::DIRECTION_REVERSAL), 1U);
  EXPECT_EQ(kinds("sound").count(Kind::LEAK_DECAY), 2U);
  EXPECT_EQ(kinds("motor-open").count(Kind::NO_RESPONSE), 2U);
  EXPECT_EQ(kinds("motor-open").count(Kind::MOTOR_START), 0U);
  EXPECT_EQ(kinds("motor-seized").count(Kind::LOCKED_ROTOR), 2U);
  EXPECT_EQ(kinds("cutoff-missing").count(Kind::RUN_ON), 2U);
  EXPECT_EQ(kinds("pump-weak").count(Kind::RUN_ON), 2U);
  EXPECT_EQ(kinds("contact-intermittent").count(Kind::DROPOUT), 3U);
  EXPECT_EQ(kinds("changeover-stuck").count(Kind::NO_RESPONSE), 2U);
  EXPECT_EQ(kinds("not-enough-tested").count(Kind::NO_RESPONSE), 1U);
  EXPECT_EQ(kinds("early-release").count(Kind::MOTOR_STOP), 1U);
  EXPECT_GE(kinds("restart").count(Kind::RESTART), 1U);
  EXPECT_EQ(kinds("jam").count(Kind::LOCKED_ROTOR), 1U);
  EXPECT_EQ(kinds("gap").count(Kind::GAP), 1U);
  EXPECT_GE(kinds("clipped").count(Kind::CLIPPED), 1U);
}

TEST(Rehearsal, EveryFindingOfTheContractCanBeRehearsed) {
  const std::set<std::string> wanted = {"SOUND",
                                        "SOURCE_DEAD",
                                        "FEED_RESISTANCE",
                                        "RETURN_RESISTANCE",
                                        "CONTACT_INTERMITTENT",
                                        "MOTOR_OPEN",
                                        "MOTOR_SEIZED",
                                        "MOTOR_WORN",
                                        "CHANGEOVER_STUCK",
                                        "CUTOFF_MISSING",
                                        "PUMP_WEAK",
                                        "LINE_LEAK",
                                        "LEAK_PRESSURE_SIDE",
                                        "LEAK_VACUUM_SIDE",
                                        "LINE_BLOCKED",
                                        "NOT_ENOUGH_TESTED"};
  std::set<std::string> there;
  for (const Fault& fault : faults()) there.insert(fault.finding);
  for (const std::string& finding : wanted) EXPECT_TRUE(there.contains(finding)) << finding;
}

// Two runs, each with its rest: as much longer as was asked for, also beyond the usual 20 s.
TEST(Rehearsal, LineIsLeftAloneAsLongAsAsked) {
  const auto length_s = [](double hold_s) {
    const Rehearsal r =
        rehearse({.fault = "line-leak", .rate_hz = 200, .seed = 6, .hold_s = hold_s});
    return static_cast<double>(r.channels[0].values.size()) / 200;
  };
  // The second run is a little shorter: the line has lost more by then.
  EXPECT_NEAR(length_s(50) - length_s(10), 2 * 40, 0.5);
}

// The same numbers as text and as a session file decode alike: the text has six digits.
TEST(Rehearsal, TextAndSessionDecodeAlike) {
  Folder folder;
  const Rehearsal r = rehearse({.fault = "line-leak", .rate_hz = 2000, .seed = 6, .hold_s = 6});
  write_session(folder.at("x.sr"), r);
  write_csv(folder.at("x.csv"), r, {.digits = 9});
  const Content session = read_all(folder.at("x.sr")), text = read_all(folder.at("x.csv"));
  ASSERT_EQ(session.channels.size(), text.channels.size());
  for (std::size_t c = 0; c < session.channels.size(); ++c) {
    EXPECT_EQ(session.values[c], text.values[c]) << session.channels[c].name;  // nine digits: exact
    EXPECT_EQ(session.channels[c].clock, text.channels[c].clock);
  }
}

}  // namespace
}  // namespace airlatch
