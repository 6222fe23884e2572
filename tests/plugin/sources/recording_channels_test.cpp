// SPDX-License-Identifier: GPL-3.0-or-later
// Recordings of other writers: wherever a channel is declared, its samples are read.
#include "plugin/sources/recording_channels.hpp"

#include <gtest/gtest.h>

#include "tests/support/drawn_mcap.hpp"
#include "tests/support/files.hpp"

namespace airlatch {
namespace {
using namespace test;
using Declared = DrawnMcap::Declared;

void expect_whole(const DrawnMcap& how, const std::string& what) {
  const Folder folder;
  const Content content = read_all(folder.write("a.mcap", drawn_mcap(how)));
  EXPECT_EQ(content.damage.empty(), how.end) << what << content.damage;
  ASSERT_EQ(content.channels.size(), how.names.size()) << what;
  for (std::size_t c = 0; c < how.names.size(); ++c) {
    const std::size_t place = static_cast<std::size_t>(
        std::find_if(content.channels.begin(), content.channels.end(),
                     [&](const SourceChannel& s) { return s.name == how.names[c]; }) -
        content.channels.begin());
    ASSERT_LT(place, content.channels.size()) << what;
    const std::size_t from = c + 1 == how.names.size() ? how.late_from : 0;
    const auto& values = content.values[place];
    ASSERT_EQ(values.size(), (kDrawnTurns - from) * kDrawnPerTurn) << what << c;
    for (std::size_t k = 0; k < values.size(); ++k)
      ASSERT_EQ(values[k], drawn_value(c, from + k / kDrawnPerTurn, k % kDrawnPerTurn)) << what;
  }
}

TEST(RecordingChannels, DeclaredAnywhere) {
  for (const Declared declared : {Declared::kAtStart, Declared::kInFirstChunk,
                                  Declared::kWhereFirstUsed, Declared::kBetweenChunks})
    for (const bool summary : {true, false})
      for (const bool in_summary : {true, false})
        for (const bool again : {true, false})
          for (const bool chunks : {true, false})
            for (const bool end : {true, false})
              expect_whole({.declared = declared,
                            .chunks = chunks,
                            .summary = summary,
                            .channels_in_summary = in_summary,
                            .again = again,
                            .end = end},
                           testing::PrintToString(static_cast<int>(declared)) +
                               (summary ? " summary" : "") + (again ? " again" : "") +
                               (chunks ? " chunks" : "") + (end ? " end" : "") + ": ");
}

// The summary alone names them.
TEST(RecordingChannels, DeclaredInTheSummaryOnly) {
  expect_whole({.declared = Declared::kNowhere}, "summary only");
}

// A file that says it is this program's own is not looked through: what comes late in it is told.
TEST(RecordingChannels, WhatWasNotKnownAtTheStartIsTold) {
  const Folder folder;
  const std::string file = drawn_mcap({.declared = Declared::kWhereFirstUsed,
                                       .summary = false,
                                       .library = "airlatch 9",
                                       .names = {"motor_a", "line_kpa"}});
  // The second channel is declared in the fifth chunk.
  const Content content = read_all(folder.write("a.mcap", file));
  ASSERT_EQ(content.channels.size(), 1U);
  EXPECT_NE(content.damage.find("not known at the start"), std::string::npos) << content.damage;
  EXPECT_EQ(content.values[0].size(), 5 * kDrawnPerTurn);
}

TEST(RecordingChannels, OneNumberForTwoChannelsIsTold) {
  const Folder folder;
  const std::string one = drawn_mcap({.names = {"motor_a", "line_kpa"}, .late_from = 0}),
                    other = drawn_mcap({.names = {"feed_a_v", "supply_v"}, .late_from = 0});
  // The other's chunks behind the first one's: its declarations contradict what is known.
  const std::string both = drawn_mcap({.end = false, .names = {"motor_a"}, .late_from = 0}) +
                           other.substr(mcap::kMagic.size());
  const Content content = read_all(folder.write("a.mcap", both));
  EXPECT_NE(content.damage.find("as another one"), std::string::npos) << content.damage;
  EXPECT_EQ(content.values[0].size(), kDrawnTurns * kDrawnPerTurn);
}

TEST(RecordingChannels, CompressedChunksAreRefused) {
  const Folder folder;
  for (const char* const compression : {"zstd", "lz4", "unheard of"})
    for (const Declared declared : {Declared::kAtStart, Declared::kInFirstChunk})
      for (const bool summary : {true, false}) {
        const Refusal refusal =
            test::refusal(folder.write("a.mcap", drawn_mcap({.declared = declared,
                                                             .summary = summary,
                                                             .channels_in_summary = false,
                                                             .compression = compression})));
        EXPECT_EQ(refusal.status, 65);
        EXPECT_NE(refusal.line.find(std::string("compressed with '") + compression),
                  std::string::npos)
            << refusal.line;
      }
}

// Numbers are of 16 bits: declaring them all is no work to speak of, and is refused.
TEST(RecordingChannels, TooMany) {
  const Folder folder;
  std::vector<std::string> names;
  for (int k = 0; k < 30'000; ++k) names.push_back("c" + std::to_string(k));
  DrawnMcap how{.declared = Declared::kAtStart, .names = names, .late_from = 0, .first_id = 0};
  const Refusal refusal = test::refusal(folder.write("a.mcap", drawn_mcap(how)));
  EXPECT_NE(refusal.line.find("30000 channels; at most 1024"), std::string::npos) << refusal.line;
}

TEST(RecordingChannels, AChannelWithoutSamplesEndsAtOnce) {
  const Folder folder;
  const auto source = open_source(folder.write("a.mcap", drawn_mcap({.late_from = kDrawnTurns})));
  SampleBlock block;
  ASSERT_TRUE(source->next(block));
  EXPECT_EQ(block.channel, 2U);
  EXPECT_TRUE(block.values.empty());
}

}  // namespace
}  // namespace airlatch
