// SPDX-License-Identifier: GPL-3.0-or-later
// The nearest word: distances that can be counted by hand, and when nothing is near.
#include "plugin/system/nearest_word.hpp"

#include <gtest/gtest.h>

namespace airlatch {
namespace {

TEST(NearestWord, DistanceCountsEachErrorOnce) {
  EXPECT_EQ(edit_distance("", ""), 0u);
  EXPECT_EQ(edit_distance("", "abc"), 3u);
  EXPECT_EQ(edit_distance("abc", ""), 3u);
  EXPECT_EQ(edit_distance("replay", "replay"), 0u);
  EXPECT_EQ(edit_distance("relay", "replay"), 1u);    // left out
  EXPECT_EQ(edit_distance("repplay", "replay"), 1u);  // put in
  EXPECT_EQ(edit_distance("rebplay", "replay"), 1u);
  EXPECT_EQ(edit_distance("reblay", "replay"), 1u);  // replaced
  EXPECT_EQ(edit_distance("repaly", "replay"), 1u);  // neighbours exchanged
  EXPECT_EQ(edit_distance("erplya", "replay"), 2u);  // exchanged at both ends
  EXPECT_EQ(edit_distance("kitten", "sitting"), 3u);
  EXPECT_EQ(edit_distance("ca", "abc"), 3u);  // no letter is moved twice
}

TEST(NearestWord, DistanceIsTheSameBothWays) {
  const std::vector<std::string> words = {"replay", "report", "rehearse", "pipe", "rig", "a", ""};
  for (const std::string& a : words)
    for (const std::string& b : words)
      EXPECT_EQ(edit_distance(a, b), edit_distance(b, a)) << a << b;
}

TEST(NearestWord, TheNearestAndOfSeveralTheFirst) {
  EXPECT_EQ(nearest_word("repaly", {"report", "replay", "relay"}), "replay");
  EXPECT_EQ(nearest_word("bat", {"hat", "cat"}), "hat");
  EXPECT_EQ(nearest_word("cat", {"hat", "cat"}), "cat");
}

TEST(NearestWord, NoneBeyondTwo) {
  EXPECT_EQ(nearest_word("rpyy", {"replay"}), "");
  EXPECT_EQ(nearest_word("rply", {"replay"}), "replay");
  EXPECT_EQ(nearest_word("replay", {}), "");
}

TEST(NearestWord, NoneThatSharesNothing) {
  EXPECT_EQ(nearest_word("x", {"h"}), "");
  EXPECT_EQ(nearest_word("xy", {"to"}), "");
  EXPECT_EQ(nearest_word("", {"to"}), "");
  EXPECT_EQ(nearest_word("t", {"to"}), "to");
}

}  // namespace
}  // namespace airlatch
