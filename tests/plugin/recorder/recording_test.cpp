// SPDX-License-Identifier: GPL-3.0-or-later
// Recordings: what was written is read, whole or cut anywhere.
#include <gtest/gtest.h>
#include <sys/resource.h>

#include <csignal>

#include "plugin/recorder/mcap_writer.hpp"
#include "tests/support/files.hpp"

namespace airlatch {
namespace {
using namespace test;

constexpr std::size_t kBlocks = 300, kSamples = 50;

float value_of(std::size_t channel, std::size_t n) {
  return static_cast<float>(1000 * channel + n);
}

// Two channels: an even one at 1 kS/s in blocks of 50, and a meter of four readings a second.
void record(const std::string& path, bool close) {
  McapWriter writer(path, {{"motor_a", "A", false, 1000}, {"line_kpa", "kPa", false, 0}},
                    {{"rig", "name: \"x\""}});
  const SampleClock clock = SampleClock::of_rate(1000, 1, 7'000'000'000);
  for (std::size_t b = 0; b < kBlocks; ++b) {
    std::vector<float> values;
    for (std::size_t k = 0; k < kSamples; ++k) values.push_back(value_of(0, b * kSamples + k));
    writer.block({.channel = 0,
                  .clock = clock,
                  .first = static_cast<std::int64_t>(b * kSamples),
                  .values = values});
    if (b % 5 == 0) {
      const std::int64_t time_ns[] = {7'000'000'000 + static_cast<std::int64_t>(b) * 50'000'000 +
                                      3};
      const float reading[] = {value_of(1, b)};
      writer.block({.channel = 1, .times_ns = time_ns, .values = reading});
    }
    writer.tick(static_cast<double>(b) * 0.05);
  }
  Event event;
  event.kind = Kind::GAP;
  writer.event(event, 8'000'000'000);
  if (close) writer.close();
}

// Counts what is there and checks that every value is one that was recorded, in its place.
std::size_t check(const std::string& path, bool& cut) {
  const auto source = open_source(path);
  EXPECT_EQ(source->channels().size(), 2U);
  EXPECT_EQ(source->channels()[1].name, "line_kpa");
  EXPECT_EQ(source->channels()[1].unit, "kPa");
  SampleBlock block;
  std::size_t n = 0, meter = 0;
  while (source->next(block))
    for (std::size_t k = 0; k < block.values.size(); ++k) {
      if (block.channel == 0) {
        EXPECT_EQ(block.values[k], value_of(0, n));
        EXPECT_EQ(block.time_ns(k), 7'000'000'000 + static_cast<std::int64_t>(n) * 1'000'000);
        ++n;
      } else {
        EXPECT_EQ(block.values[k], value_of(1, 5 * meter));
        EXPECT_EQ(block.time_ns(k), 7'000'000'003 + static_cast<std::int64_t>(meter) * 250'000'000);
        ++meter;
      }
    }
  cut = !source->damage().empty();
  return n;
}

TEST(Recording, WhatWasWrittenIsRead) {
  const Folder folder;
  record(folder.at("a.mcap"), true);
  bool cut = true;
  EXPECT_EQ(check(folder.at("a.mcap"), cut), kBlocks * kSamples);
  EXPECT_FALSE(cut);
}

// Cut at any byte: what stands in whole chunks is there, nothing is invented, and it says so.
TEST(Recording, CutAnywhere) {
  const Folder folder;
  record(folder.at("a.mcap"), true);
  const std::string whole = read_file(folder.at("a.mcap"));
  std::size_t before = 0, refused = 0;
  for (std::size_t size = 0; size < whole.size(); size += 997) {
    folder.write("cut.mcap", whole.substr(0, size));
    try {
      bool cut = false;
      const std::size_t n = check(folder.at("cut.mcap"), cut);
      EXPECT_GE(n, before) << size;
      before = n;
    } catch (const InputError& error) {
      EXPECT_EQ(error.status(), ExitStatus::kUnusableData);
      ++refused;  // too short to name its channels
    }
  }
  EXPECT_GE(before + 700, kBlocks * kSamples);
  EXPECT_LT(refused, 10U);
}

TEST(Recording, NotClosedIsCut) {
  const Folder folder;
  record(folder.at("a.mcap"), false);
  bool cut = false;
  const std::size_t n = check(folder.at("a.mcap"), cut);
  EXPECT_TRUE(cut);
  EXPECT_GE(n, kBlocks * kSamples - 300);  // at most what is younger than kFlush_s, and a block
}

TEST(Recording, AFlippedBitIsReported) {
  const Folder folder;
  record(folder.at("a.mcap"), true);
  std::string bytes = read_file(folder.at("a.mcap"));
  bytes[bytes.size() / 2] = static_cast<char>(bytes[bytes.size() / 2] ^ 0x10);
  folder.write("b.mcap", bytes);
  bool cut = false;
  EXPECT_LT(check(folder.at("b.mcap"), cut), kBlocks * kSamples);
  EXPECT_TRUE(cut);
}

// A full disk: the file ends with its last whole chunk.
TEST(Recording, NoRoomLeft) {
  const Folder folder;
  rlimit old{}, small{};
  ::getrlimit(RLIMIT_FSIZE, &old);
  small = old;
  small.rlim_cur = 30'000;
  ::signal(SIGXFSZ, SIG_IGN);
  ::setrlimit(RLIMIT_FSIZE, &small);
  EXPECT_THROW(record(folder.at("a.mcap"), true), InputError);
  ::setrlimit(RLIMIT_FSIZE, &old);
  bool cut = false;
  EXPECT_GT(check(folder.at("a.mcap"), cut), 1000U);
  EXPECT_TRUE(cut);
}

// The recorder goes on without it, and says so.
TEST(Recording, ADeletedFileIsNoticed) {
  const Folder folder;
  McapWriter writer(folder.at("a.mcap"), {{"line_kpa", "kPa", false, 0}}, {});
  const auto reading = [&](double now_s) {
    const std::int64_t time_ns[] = {std::llround(now_s * 1e9)};
    const float value[] = {1};
    writer.block({.channel = 0, .times_ns = time_ns, .values = value});
    writer.tick(now_s);
  };
  reading(1);
  reading(2);
  std::filesystem::remove(folder.at("a.mcap"));
  EXPECT_THROW(reading(3), InputError);
}

TEST(Recording, ATakenNameGetsANumberWhereThatIsAsked) {
  const Folder folder;
  for (const char* const name : {"a.mcap", "a-2.mcap", "a-3.mcap"}) {
    const McapWriter writer(folder.at("a.mcap"), {}, {}, McapWriter::Taken::kNumbered);
    EXPECT_EQ(writer.path(), folder.at(name));
  }
}

TEST(Recording, NeverOverAnother) {
  const Folder folder;
  folder.write("a.mcap", "mine");
  EXPECT_THROW(record(folder.at("a.mcap"), true), InputError);
  EXPECT_EQ(read_file(folder.at("a.mcap")), "mine");
}

}  // namespace
}  // namespace airlatch
