// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/host/screen.hpp"

#include <gtest/gtest.h>

#include <algorithm>

namespace airlatch {
namespace {

std::size_t rows(const std::string& frame) {
  return static_cast<std::size_t>(std::count(frame.begin(), frame.end(), '\n'));
}

bool shows(const std::string& frame, const std::string& part) {
  return frame.find(part) != std::string::npos;
}

// Where nothing is looked at.
SideOutput nowhere(-1, "nowhere");

TEST(Screen, ShowsWhereTheCaptureStands) {
  Screen screen(Screen::Form::kDrawn, nowhere, nowhere);
  ScreenFacts facts;
  facts.newest_s = 125.9;
  facts.queue_share = 0.07;
  facts.recording = "a.mcap";
  facts.figures = {{Role::FEED_A_VOLTAGE, 0.02}, {Role::FEED_B_VOLTAGE, 12.34}};
  const std::string frame = screen.frame(facts);
  EXPECT_TRUE(shows(frame, "airlatch  capturing   02:05   queue 7 %   a.mcap\n"));
  EXPECT_TRUE(shows(frame, "   12.34 V  "));  // of the contact that is fed
  EXPECT_TRUE(shows(frame, "       - A  "));  // nobody measures it
  EXPECT_FALSE(shows(frame, "The plan is done"));
  facts.ending = facts.led = true;
  EXPECT_TRUE(shows(screen.frame(facts), "airlatch  ending"));
  EXPECT_TRUE(shows(screen.frame(facts), "The plan is done"));
  facts.prompt = "1 of 2: feed contact A";
  EXPECT_TRUE(shows(screen.frame(facts), "1 of 2: feed contact A"));
  EXPECT_FALSE(shows(screen.frame(facts), "The plan is done"));
}

TEST(Screen, FitsEightyByTwentyFourWhateverIsRemarked) {
  Screen screen(Screen::Form::kDrawn, nowhere, nowhere);
  std::string words;
  for (int k = 0; k < 15; ++k) words += "a remark ";  // two rows
  for (int k = 0; k < 50; ++k) screen.remark(std::to_string(k) + " " + words);
  Event event;
  event.kind = Kind::MOTOR_START;
  event.time_s = 2.4137;
  event.contact = Contact::A;
  screen.event(event);
  ScreenFacts facts;
  facts.prompt = words;
  const std::string frame = screen.frame(facts);
  EXPECT_LE(rows(frame), 24U);
  EXPECT_TRUE(shows(frame, "    2.414 s  MOTOR_START A\n"));
  EXPECT_TRUE(shows(frame, "* 49 "));
  EXPECT_TRUE(shows(frame, "* 45 "));
  EXPECT_FALSE(shows(frame, "* 44 "));  // gone from the screen
}

TEST(Screen, IsDrawnNowAndThenAndOnlyOnATerminal) {
  Screen screen(Screen::Form::kDrawn, nowhere, nowhere);
  EXPECT_TRUE(screen.due(10));
  EXPECT_FALSE(screen.due(10.1));
  EXPECT_TRUE(screen.due(10.3));
  Screen lines(Screen::Form::kLines, nowhere, nowhere);
  EXPECT_FALSE(lines.due(10));
}

}  // namespace
}  // namespace airlatch
