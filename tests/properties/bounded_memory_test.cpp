// SPDX-License-Identifier: GPL-3.0-or-later
// Ten minutes of four channels at 50 kS/s (480 MB of floats) in at most 64 MiB.
#include <gtest/gtest.h>

#include "plugin/recorder/sr_writer.hpp"
#include "plugin/rehearse/rehearsal.hpp"
#include "tests/support/program.hpp"

#ifdef __SANITIZE_ADDRESS__
constexpr bool kSanitized = true;  // its shadow memory would be measured
#else
constexpr bool kSanitized = false;
#endif

namespace airlatch {
namespace {
using namespace test;

TEST(BoundedMemory, TenMinutesOfFourChannels) {
  const Folder folder;
  const Rehearsal r = rehearse({.fault = "line-leak", .rate_hz = 50000, .seed = 31, .hold_s = 5});
  const auto n = static_cast<std::size_t>(kSanitized ? 60 : 600) * 50000;
  std::vector<std::vector<float>> values;
  std::vector<std::pair<std::string, const std::vector<float>*>> channels;
  for (const std::size_t c : {0U, 1U, 4U, 5U}) {
    std::vector<float> longer;
    longer.reserve(n);
    while (longer.size() < n)
      longer.insert(
          longer.end(), r.channels[c].values.begin(),
          r.channels[c].values.begin() + static_cast<std::ptrdiff_t>(std::min(
                                             r.channels[c].values.size(), n - longer.size())));
    values.push_back(std::move(longer));
  }
  const char* names[] = {"supply_v", "feed_a_v", "motor_a", "line_kpa"};
  for (std::size_t c = 0; c < 4; ++c) channels.emplace_back(names[c], &values[c]);
  write_sr(folder.at("long.sr"), 50000, channels);
  values.clear();
  const Ran ran =
      run({"replay", folder.at("long.sr"), "--quiet", "--events", folder.at("e.jsonl")});
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_GE(lines(read_file(folder.at("e.jsonl"))), 20U);
  std::printf("peak resident set %.1f MiB\n", static_cast<double>(ran.peak_kib) / 1024);
  if (!kSanitized) {
    EXPECT_LE(ran.peak_kib, 64 * 1024);
  }
}

}  // namespace
}  // namespace airlatch
