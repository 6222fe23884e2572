// SPDX-License-Identifier: GPL-3.0-or-later
// The shipped captures say what their truth says.
#include <gtest/gtest.h>

#include <map>

#include "plugin/job/decode_capture.hpp"
#include "plugin/message/setup_file.hpp"
#include "tests/support/oracle.hpp"
#include "tests/support/program.hpp"

namespace airlatch {
namespace {
using namespace test;
namespace fs = std::filesystem;

TEST(ShippedCaptures, DecodeToTheirTruth) {
  int captures = 0;
  std::uintmax_t bytes = 0;
  for (const auto& entry : fs::directory_iterator(AIRLATCH_SOURCE_DIR "/captures")) {
    bytes += entry.file_size();
    const fs::path path = entry.path();
    if (path.extension() != ".sr" && path.extension() != ".csv") continue;
    ++captures;
    const fs::path stem = path.parent_path() / path.stem();
    std::vector<Event> truth;
    std::istringstream lines(read_file(stem.string() + ".truth.json"));
    for (std::string line; std::getline(lines, line);)
      ASSERT_TRUE(event_of_json(line, truth.emplace_back()));
    std::vector<Event> found;
    const CaptureFacts facts = decode_capture(path, {}, read_rig(stem.string() + ".rig"), {},
                                              [&](const Event& event) { found.push_back(event); });
    EXPECT_EQ(facts.damage, "");
    std::map<Kind, int> kinds;
    for (const Event& event : truth) ++kinds[event.kind];
    for (const Event& event : found) --kinds[event.kind];
    for (const auto& [kind, left] : kinds) EXPECT_EQ(left, 0) << path << " " << name_of(kind);
    const double period_s = 1 / facts.channels.front().rate_hz;
    for (const Event& right : truth) {
      if (right.kind == Kind::LEAK_DECAY) continue;
      double nearest_s = 1e9;
      for (const Event& event : found)
        if (event.kind == right.kind)
          nearest_s = std::min(nearest_s, std::abs(event.time_s - right.time_s));
      EXPECT_LE(nearest_s, period_s) << path << " " << name_of(right.kind);
    }
  }
  EXPECT_GE(captures, 6);
  EXPECT_LT(bytes, 3'000'000U);
}

}  // namespace
}  // namespace airlatch
