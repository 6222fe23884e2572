// SPDX-License-Identifier: GPL-3.0-or-later
// Session files: sound ones read to the bit, damaged ones reported. The damages are those that
// libsigrok's own replay lets pass or stumbles over.
#include "plugin/sources/sigrok_file.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <limits>

#include "plugin/recorder/sr_writer.hpp"
#include "tests/support/files.hpp"
#include "tests/support/shared_entry.hpp"

namespace airlatch {
namespace {
using namespace test;

std::string metadata(const std::string& rate, int analog, const std::string& more = "") {
  std::string text = "[global]\nsigrok version=0.5.2\n\n[device 1]\nsamplerate=" + rate +
                     "\ntotal analog=" + std::to_string(analog) + "\n";
  for (int n = 1; n <= analog; ++n)
    text += "analog" + std::to_string(n) + "=ch" + std::to_string(n) + "\n";
  return text + more;
}

std::vector<float> ramp(std::size_t n, float start = 0) {
  std::vector<float> out(n);
  for (std::size_t k = 0; k < n; ++k) out[k] = start + static_cast<float>(k) * 0.25F;
  return out;
}

class SigrokFileTest : public testing::Test {
 protected:
  std::string zip(const Entries& entries, bool deflate = false) {
    write_zip(folder.at("x.sr"), entries, deflate);
    return folder.at("x.sr");
  }
  Folder folder;
};

TEST_F(SigrokFileTest, ChunksBecomeOneStream) {
  const auto a = ramp(1000), b = ramp(1000, 7);
  const std::string path = zip({{"version", "2"},
                                {"metadata", metadata("10 kHz", 2)},
                                {"analog-1-1-1", floats({a.begin(), a.begin() + 300})},
                                {"analog-1-2-1", floats({b.begin(), b.begin() + 900})},
                                {"analog-1-1-2", floats({a.begin() + 300, a.end()})},
                                {"analog-1-2-2", floats({b.begin() + 900, b.end()})}},
                               true);
  const Content content = read_all(path);
  ASSERT_EQ(content.channels.size(), 2U);
  EXPECT_EQ(content.channels[0].name, "ch1");
  EXPECT_EQ(content.channels[0].clock, SampleClock::of_rate(10000));
  EXPECT_EQ(content.values[0], a);
  EXPECT_EQ(content.values[1], b);
  EXPECT_EQ(content.damage, "");
}

// It is told that the channel ends, so that the others need not wait for it.
TEST_F(SigrokFileTest, AChannelOfNoSamplesEndsAtOnce) {
  const auto a = ramp(5000);
  const auto source = open_source(zip({{"version", "2"},
                                       {"metadata", metadata("1 kHz", 2)},
                                       {"analog-1-1-1", floats(a)},
                                       {"analog-1-2-1", ""}}));
  SampleBlock block;
  std::size_t ends = 0, read = 0;
  while (source->next(block)) {
    read += block.values.size();
    if (!block.values.empty()) continue;
    EXPECT_EQ(block.channel, 1U);
    EXPECT_LE(read, 1000U);
    ++ends;
  }
  EXPECT_EQ(ends, 1U);
  EXPECT_EQ(read, a.size());
  EXPECT_EQ(source->damage(), "");
}

// Entries that share their bytes: what the file can hold is used.
TEST_F(SigrokFileTest, EntriesOnTheSameBytes) {
  const std::string file =
      with_shared_entry(read_file(zip({{"version", "2"},
                                       {"metadata", metadata("1 kHz", 1)},
                                       {"analog-1-1-1", floats(std::vector<float>(100'000, 1))}},
                                      true)),
                        "analog-1-1-", 60'000);
  const Content content = read_all(folder.write("shared.sr", file));
  EXPECT_NE(content.damage.find("longer than the file"), std::string::npos) << content.damage;
  EXPECT_EQ(content.values[0].size(), 100'000U);
}

// No channel runs ahead: what a host has to hold stays bounded.
TEST_F(SigrokFileTest, ChannelsGoSideBySide) {
  const auto values = ramp(100000);
  write_sr(folder.at("x.sr"), 10000, {{"a", &values}, {"b", &values}, {"c", &values}});
  const auto source = open_source(folder.at("x.sr"));
  std::vector<std::int64_t> at(3, 0);
  SampleBlock block;
  while (source->next(block)) {
    at[block.channel] = block.first + std::ssize(block.values);
    const auto [low, high] = std::minmax_element(at.begin(), at.end());
    EXPECT_LE(*high - *low, static_cast<std::int64_t>(10000 * Source::kLargestLead_s));
  }
  EXPECT_EQ(at, std::vector<std::int64_t>(3, 100000));
}

// ... and where their chunks are of unequal lengths nobody falls behind, chunk by chunk.
TEST_F(SigrokFileTest, UnequalChunksKeepChannelsSideBySide) {
  const auto values = ramp(100'000);
  Entries entries = {{"version", "2"}, {"metadata", metadata("1 kHz", 2)}};
  for (const std::size_t channel : {1U, 2U}) {
    const std::size_t length = channel == 1 ? 1000 : 977;
    for (std::size_t from = 0, part = 1; from < values.size(); from += length, ++part) {
      const auto begin = values.begin() + static_cast<std::ptrdiff_t>(from);
      const auto n = static_cast<std::ptrdiff_t>(std::min(length, values.size() - from));
      entries.push_back({"analog-1-" + std::to_string(channel) + "-" + std::to_string(part),
                         floats({begin, begin + n})});
    }
  }
  const auto source = open_source(zip(entries));
  std::array<std::int64_t, 2> until = {};
  for (SampleBlock block; source->next(block);) {
    until[block.channel] = block.first + std::ssize(block.values);
    EXPECT_EQ(block.values.front(), values[static_cast<std::size_t>(block.first)]);
    ASSERT_LE(std::abs(until[0] - until[1]), 100);  // kLargestLead_s at 1 kS/s
  }
  EXPECT_EQ(until[0], 100'000);
  EXPECT_EQ(until[1], 100'000);
}

TEST_F(SigrokFileTest, LogicChannelsAreNoughtAndOne) {
  const std::string path =
      zip({{"version", "2"},
           {"metadata",
            "[device 1]\ncapturefile=logic-1\ntotal probes=2\nsamplerate=1 kHz\ntotal analog=1\n"
            "probe1=command\nprobe2=spare\nanalog3=motor_a\nunitsize=1\n"},
           {"logic-1-1", std::string("\x00\x01\x03\x02", 4)},
           {"analog-1-3-1", floats({1, 2, 3, 4})}});
  const Content content = read_all(path);
  ASSERT_EQ(content.channels.size(), 3U);
  EXPECT_TRUE(content.channels[0].logic);
  EXPECT_EQ(content.values[0], (std::vector<float>{0, 1, 1, 0}));
  EXPECT_EQ(content.values[1], (std::vector<float>{0, 0, 1, 1}));
  EXPECT_EQ(content.values[2], (std::vector<float>{1, 2, 3, 4}));
}

TEST_F(SigrokFileTest, RatesAsLibsigrokReadsThem) {
  for (const auto& [text, rate_hz] : {std::pair<const char*, std::int64_t>{"1 Hz", 1},
                                      {"44100", 44100},
                                      {"10 kHz", 10000},
                                      {"200 mHz", 200'000'000},  // a capital or not: mega
                                      {"1.5 MHz", 1'500'000}}) {
    const std::string path = zip(
        {{"version", "2"}, {"metadata", metadata(text, 1)}, {"analog-1-1-1", floats(ramp(10))}});
    EXPECT_EQ(read_all(path).channels[0].clock, SampleClock::of_rate(rate_hz)) << text;
  }
}

TEST_F(SigrokFileTest, MissingAndOverloadPassThrough) {
  const float nan = std::nanf(""), inf = std::numeric_limits<float>::infinity();
  const std::string path = zip({{"version", "2"},
                                {"metadata", metadata("1 kHz", 1)},
                                {"analog-1-1-1", floats({1, nan, inf, -inf})}});
  const auto values = read_all(path).values[0];
  EXPECT_TRUE(std::isnan(values[1]));
  EXPECT_EQ(values[2], inf);
  EXPECT_EQ(values[3], -inf);
}

// ---- damage that leaves nothing sound: status 65, one line with file, place and remedy

struct Broken {
  const char* name;
  Entries entries;
  const char* says;
};

TEST_F(SigrokFileTest, UnusableFilesAreRefusedInOneLine) {
  const std::string data = floats(ramp(100));
  const std::string good = metadata("1 kHz", 1);
  const std::vector<Broken> cases = {
      {"no version", {{"metadata", good}, {"analog-1-1-1", data}}, "entry version"},
      {"no metadata", {{"version", "2"}, {"analog-1-1-1", data}}, "entry metadata"},
      {"version 3", {{"version", "3"}, {"metadata", good}, {"analog-1-1-1", data}}, "version '3'"},
      {"version text",
       {{"version", "x"}, {"metadata", good}, {"analog-1-1-1", data}},
       "version 'x'"},
      {"empty metadata", {{"version", "2"}, {"metadata", ""}, {"analog-1-1-1", data}}, "no device"},
      {"no section", {{"version", "2"}, {"metadata", "hello"}, {"analog-1-1-1", data}}, "no '='"},
      {"rate text",
       {{"version", "2"}, {"metadata", metadata("fast", 1)}, {"analog-1-1-1", data}},
       "samplerate=fast is not a rate"},
      {"rate 0",
       {{"version", "2"}, {"metadata", metadata("0", 1)}, {"analog-1-1-1", data}},
       "give it with --rate HZ"},
      {"rate missing",
       {{"version", "2"},
        {"metadata", "[device 1]\ntotal analog=1\nanalog1=a\n"},
        {"analog-1-1-1", data}},
       "give it with --rate HZ"},
      {"rate below 1 Hz",
       {{"version", "2"}, {"metadata", metadata("0.2 Hz", 1)}, {"analog-1-1-1", data}},
       "--rate HZ"},
      {"negative rate",
       {{"version", "2"}, {"metadata", metadata("-5 kHz", 1)}, {"analog-1-1-1", data}},
       "is not a rate"},
      {"names beyond totals",
       {{"version", "2"},
        {"metadata", metadata("1 kHz", 1, "analog2=b\n")},
        {"analog-1-1-1", data}},
       "beyond the totals"},
      {"negative totals",
       {{"version", "2"},
        {"metadata", "[device 1]\nsamplerate=1 kHz\ntotal analog=-1\n"},
        {"analog-1-1-1", data}},
       "is not a number"},
      {"huge totals",
       {{"version", "2"},
        {"metadata", "[device 1]\nsamplerate=1 kHz\ntotal analog=2147483647\n"},
        {"analog-1-1-1", data}},
       "is not a number from 0 to 64"},
      {"totals that overflow",
       {{"version", "2"},
        {"metadata",
         "[device 1]\nsamplerate=1 kHz\ntotal probes=2147483647\ntotal analog=2147483647\n"},
        {"analog-1-1-1", data}},
       "is not a number"},
      {"totals twice",
       {{"version", "2"},
        {"metadata", metadata("1 kHz", 1, "total analog=1\n")},
        {"analog-1-1-1", data}},
       "totals are given twice"},
      {"totals too low",
       {{"version", "2"}, {"metadata", good}, {"analog-1-1-1", data}, {"analog-1-2-1", data}},
       "belongs to no channel"},
      {"no chunk number",
       {{"version", "2"}, {"metadata", good}, {"analog-1-1", data}},
       "no channel and chunk number"},
      {"second device",
       {{"version", "2"}, {"metadata", good + "[device 2]\n"}, {"analog-1-1-1", data}},
       "second device"},
      {"unitsize 0",
       {{"version", "2"},
        {"metadata",
         "[device 1]\ncapturefile=logic-1\ntotal probes=1\nsamplerate=1 kHz\nunitsize=0\n"},
        {"logic-1-1", "abc"}},
       "unitsize=0"},
      {"unitsize huge",
       {{"version", "2"},
        {"metadata",
         "[device 1]\ncapturefile=logic-1\ntotal probes=1\nsamplerate=1 kHz\nunitsize=65536\n"},
        {"logic-1-1", "abc"}},
       "unitsize=65536"},
      {"no unitsize",
       {{"version", "2"},
        {"metadata", "[device 1]\ncapturefile=logic-1\ntotal probes=1\nsamplerate=1 kHz\n"},
        {"logic-1-1", "abc"}},
       "unitsize is missing"},
      {"no samples", {{"version", "2"}, {"metadata", good}}, "no samples"},
  };
  for (const Broken& broken : cases) {
    const Refusal said = refusal(zip(broken.entries));
    EXPECT_EQ(said.status, 65) << broken.name << ": " << said.line;
    EXPECT_NE(said.line.find(broken.says), std::string::npos) << broken.name << ": " << said.line;
    EXPECT_NE(said.line.find("x.sr"), std::string::npos) << said.line;
    EXPECT_EQ(said.line.find('\n'), std::string::npos) << said.line;
  }
}

TEST_F(SigrokFileTest, ARateGivenByHandServesAFileWithoutOne) {
  const std::string path = zip({{"version", "2"},
                                {"metadata", "[device 1]\ntotal analog=1\nanalog1=a\n"},
                                {"analog-1-1-1", floats(ramp(10))}});
  EXPECT_EQ(read_all(path, {.rate_hz = 0.5}).channels[0].clock, SampleClock::of_rate(1, 2));
}

// ---- damage behind sound data: decoded as far as it is sound, and reported

TEST_F(SigrokFileTest, AFlippedByteIsNeverDelivered) {
  for (const bool deflate : {false, true}) {
    const auto a = ramp(5000), b = ramp(5000, 3);
    const std::string path = zip({{"version", "2"},
                                  {"metadata", metadata("1 kHz", 1)},
                                  {"analog-1-1-1", floats(a)},
                                  {"analog-1-1-2", floats(b)}},
                                 deflate);
    std::string bytes = read_file(path);
    const std::size_t second = bytes.find("analog-1-1-2");
    bytes[second + 400] = static_cast<char>(bytes[second + 400] ^ 0x10);
    folder.write("x.sr", bytes);
    const Content content = read_all(path);
    EXPECT_EQ(content.values[0], a);
    EXPECT_NE(content.damage.find("analog-1-1-2 is damaged"), std::string::npos) << content.damage;
  }
}

TEST_F(SigrokFileTest, AMissingChunkEndsItThere) {
  const auto a = ramp(100);
  const Content content = read_all(zip({{"version", "2"},
                                        {"metadata", metadata("1 kHz", 1)},
                                        {"analog-1-1-1", floats(a)},
                                        {"analog-1-1-3", floats(a)}}));
  EXPECT_EQ(content.values[0], a);
  EXPECT_NE(content.damage.find("chunk 2 of ch1 is missing"), std::string::npos);
}

TEST_F(SigrokFileTest, AChunkThatIsNoWholeNumberOfSamples) {
  const auto a = ramp(100);
  const Content content = read_all(zip({{"version", "2"},
                                        {"metadata", metadata("1 kHz", 1)},
                                        {"analog-1-1-1", floats(a)},
                                        {"analog-1-1-2", floats(a) + "ab"}}));
  EXPECT_EQ(content.values[0], a);
  EXPECT_NE(content.damage.find("not a whole number of samples"), std::string::npos);
}

TEST_F(SigrokFileTest, UnequalLengthsAreReportedWithTheShorterOne) {
  const Content content = read_all(zip({{"version", "2"},
                                        {"metadata", metadata("1 kHz", 2)},
                                        {"analog-1-1-1", floats(ramp(100))},
                                        {"analog-1-2-1", floats(ramp(60))}}));
  EXPECT_EQ(content.values[0].size(), 100U);
  EXPECT_EQ(content.values[1].size(), 60U);
  EXPECT_NE(content.damage.find("ch2 ends after 60 samples"), std::string::npos) << content.damage;
}

TEST_F(SigrokFileTest, TotalsTooHigh) {
  const Content content = read_all(zip(
      {{"version", "2"}, {"metadata", metadata("1 kHz", 2)}, {"analog-1-1-1", floats(ramp(100))}}));
  EXPECT_EQ(content.values[0].size(), 100U);
  EXPECT_NE(content.damage.find("ch2 has no data"), std::string::npos);
}

// Cut at every 37th byte: never a crash, never a wrong sample, always reported.
TEST_F(SigrokFileTest, CutAnywhere) {
  const auto a = ramp(600), b = ramp(600, 50);
  const std::string path = zip({{"version", "2"},
                                {"metadata", metadata("1 kHz", 2)},
                                {"analog-1-1-1", floats({a.begin(), a.begin() + 300})},
                                {"analog-1-2-1", floats({b.begin(), b.begin() + 300})},
                                {"analog-1-1-2", floats({a.begin() + 300, a.end()})},
                                {"analog-1-2-2", floats({b.begin() + 300, b.end()})}},
                               true);
  const std::string whole = read_file(path);
  int saved = 0;
  for (std::size_t length = 0; length < whole.size(); length += 37) {
    const std::string cut = folder.write("cut.sr", whole.substr(0, length));
    try {
      const Content content = read_all(cut);
      EXPECT_NE(content.damage, "") << length;
      ASSERT_LE(content.values[0].size(), a.size());
      EXPECT_TRUE(std::equal(content.values[0].begin(), content.values[0].end(), a.begin()));
      EXPECT_TRUE(std::equal(content.values[1].begin(), content.values[1].end(), b.begin()));
      ++saved;
    } catch (const InputError& error) {
      EXPECT_EQ(error.status(), ExitStatus::kUnusableData) << length;
    }
  }
  EXPECT_GT(saved, 5);  // the whole entries before the cut are worth having
}

TEST_F(SigrokFileTest, ManySmallChunksAndOneLargeOne) {
  Entries entries = {{"version", "2"}, {"metadata", metadata("1 MHz", 1)}};
  std::vector<float> all;
  for (int n = 1; n <= 3000; ++n) {
    const auto part = ramp(7, static_cast<float>(n));
    all.insert(all.end(), part.begin(), part.end());
    entries.emplace_back("analog-1-1-" + std::to_string(n), floats(part));
  }
  EXPECT_EQ(read_all(zip(entries)).values[0], all);
  const auto large = ramp(9'000'000);  // 36 MB: larger than is held in memory
  EXPECT_EQ(read_all(zip({{"version", "2"},
                          {"metadata", metadata("1 MHz", 1)},
                          {"analog-1-1-1", floats(large)}},
                         true))
                .values[0],
            large);
}

}  // namespace
}  // namespace airlatch
