// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/live/guide.hpp"

#include <gtest/gtest.h>

#include "decoders/context.hpp"
#include "plugin/message/plans.hpp"
#include "plugin/rehearse/rehearsal.hpp"
#include "tests/support/score.hpp"

namespace airlatch {
namespace {
using namespace test;

// Plays the events of a rehearsed pump, with time going on between them.
std::vector<std::string> led(const std::string& fault, Guide& guide, double until_s = 200) {
  std::vector<std::string> news;
  double now_s = 0;
  const auto pass = [&](double to_s) {
    for (; now_s < to_s; now_s += 0.25) {
      guide.on_time(now_s);
      for (const std::string& text : guide.news()) news.push_back(text);
    }
  };
  for (const Event& event :
       decode_rehearsal(rehearse({.fault = fault, .rate_hz = 500, .seed = 5, .hold_s = 22}))) {
    // A decay is known when it is over.
    const Measure* lasted =
        event.kind == Kind::LEAK_DECAY ? find_measure(event, "duration") : nullptr;
    pass(event.time_s + (lasted ? lasted->value : 0));
    guide.on_event(event);
    for (const std::string& text : guide.news()) news.push_back(text);
  }
  pass(until_s);
  return news;
}

bool said(const std::vector<std::string>& news, const std::string& part) {
  return std::any_of(news.begin(), news.end(),
                     [&](const std::string& text) { return text.find(part) != std::string::npos; });
}

TEST(Guide, ASoundPumpIsLedThroughWithNoKey) {
  Guide guide(find_plan("bench-pump"));
  EXPECT_NE(guide.prompt().find("Feed contact A"), std::string::npos);
  const auto news = led("sound", guide);
  EXPECT_TRUE(guide.done());
  EXPECT_TRUE(guide.prompt().empty());
  for (const auto& result : guide.results()) EXPECT_EQ(result.outcome, Outcome::PASS) << result.id;
  EXPECT_TRUE(said(news, "long enough"));
}

TEST(Guide, ALeakFailsItsHold) {
  Guide guide(find_plan("bench-pump"));
  led("line-leak", guide);
  EXPECT_EQ(guide.results()[1].outcome, Outcome::FAIL);
}

TEST(Guide, AlarmsThatCannotWait) {
  Guide seized(find_plan("bench-pump"));
  EXPECT_TRUE(said(led("motor-seized", seized), "TAKE THE FEED OFF NOW"));
  EXPECT_FALSE(seized.done());
  Guide runs_on(find_plan("bench-pump"));
  EXPECT_TRUE(said(led("cutoff-missing", runs_on), "does not stop itself"));
  Guide flat(find_plan("bench-pump"));
  EXPECT_TRUE(said(led("source-dead", flat), "source is low") || !flat.done());
  Guide dead(find_plan("bench-pump"));
  EXPECT_TRUE(said(led("not-enough-tested", dead), "feed the other contact"));
  Guide early(find_plan("bench-pump"));
  EXPECT_TRUE(said(led("early-release", early), "try again"));
}

}  // namespace
}  // namespace airlatch
