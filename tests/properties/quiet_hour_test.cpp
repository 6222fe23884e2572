// SPDX-License-Identifier: GPL-3.0-or-later
// An hour of quiet, noisy channels says nothing at all.
#include <gtest/gtest.h>

#include "plugin/rehearse/random.hpp"
#include "tests/support/decode.hpp"

namespace airlatch {
namespace {

TEST(QuietHour, SaysNothing) {
  constexpr std::int64_t kRate_hz = 10000;
  constexpr std::size_t kBlock = 10000;
  const Role roles[] = {Role::SUPPLY_VOLTAGE, Role::FEED_A_VOLTAGE, Role::MOTOR_CURRENT,
                        Role::LINE_PRESSURE};
  const double level[] = {12.5, 0, 0.05, 0}, noise[] = {0.006, 0.006, 0.012, 0.05};
  std::vector<ChainChannel> channels;
  for (const Role role : roles)
    channels.push_back(test::channel_of(role, SampleClock::of_rate(kRate_hz)));
  Chain chain(channels, {});
  std::string heard;
  chain.on_event.connect([&](const Event& event) { heard += name_of(event.kind) + " "; });
  Random random(20261);
  std::vector<float> values(kBlock);
  for (std::int64_t second = 0; second < 3600; ++second)
    for (std::size_t c = 0; c < 4; ++c) {
      // 12-bit readings of normal noise; the clamp drifts by 40 mA an hour.
      const double drift = c == 2 ? 0.04 * static_cast<double>(second) / 3600 : 0;
      const double step = c == 3 ? 200.0 / 4096 : c == 2 ? 40.0 / 4096 : 22.0 / 4096;
      for (float& v : values)
        v = static_cast<float>(step *
                               std::round((level[c] + drift + noise[c] * random.normal()) / step));
      chain.push(
          {.channel = c, .clock = channels[c].clock, .first = second * kRate_hz, .values = values});
    }
  chain.finish();
  EXPECT_EQ(heard, "");
}

}  // namespace
}  // namespace airlatch
