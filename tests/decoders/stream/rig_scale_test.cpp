// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/stream/rig_scale.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>

namespace airlatch {
namespace {

std::vector<float> scaled(RigScale& scale, std::vector<float> raw, std::int64_t first = 0) {
  const SampleBlock block{.clock = SampleClock::of_rate(1000), .first = first, .values = raw};
  const SampleBlock out = scale.apply(block, 0);
  return {out.values.begin(), out.values.end()};
}

// Quantity = scale x raw + offset, then sign (contract).
TEST(RigScale, ScaleOffsetSign) {
  Rig::Channel entry;
  entry.role = Role::LINE_PRESSURE;
  entry.scale = 50;
  entry.offset = -125;
  RigScale sensor(entry);
  EXPECT_EQ(scaled(sensor, {2.5F, 3.5F}), (std::vector<float>{0, 50}));
  entry.invert = true;
  RigScale mounted_backwards(entry);
  EXPECT_EQ(scaled(mounted_backwards, {3.5F}), (std::vector<float>{-50}));
}

TEST(RigScale, MissingAndOverloadStayWhatTheyAre) {
  Rig::Channel entry;
  entry.role = Role::LINE_PRESSURE;
  entry.scale = 2;
  RigScale scale(entry);
  const auto out = scaled(scale, {std::nanf(""), std::numeric_limits<float>::infinity()});
  EXPECT_TRUE(std::isnan(out[0]));
  EXPECT_TRUE(std::isinf(out[1]));
}

TEST(RigScale, AutoZeroTakesTheFirstReadingsAsNought) {
  Rig::Channel entry;
  entry.role = Role::LINE_PRESSURE;
  entry.scale = 10;
  entry.auto_zero = true;
  RigScale scale(entry);
  scaled(scale, std::vector<float>(200, 0.13F));  // 0.2 s at 1.3 kPa
  EXPECT_NEAR(scaled(scale, {4.13F}, 200)[0], 40, 1e-4);
}

}  // namespace
}  // namespace airlatch
