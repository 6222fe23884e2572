// SPDX-License-Identifier: GPL-3.0-or-later
// Drawn voltages of three contacts: what the sampler hands on is their mean over each step.
#include "plugin/job/contact_samples.hpp"

#include <gtest/gtest.h>

#include "tests/support/wave.hpp"

namespace airlatch {
namespace {
using test::Wave;

const std::array kRoles5 = {Role::LINE_PRESSURE, Role::MOTOR_CURRENT, Role::RETURN_VOLTAGE,
                            Role::FEED_B_VOLTAGE, Role::FEED_A_VOLTAGE};

RigMatch match_of(std::size_t channels, std::int64_t rate_hz) {
  RigMatch match;
  for (std::size_t c = 0; c < channels; ++c) {
    Rig::Channel entry{.source = name_of(kRoles5[c]), .role = kRoles5[c]};
    match.channels.push_back({.rig = entry, .clock = SampleClock::of_rate(rate_hz)});
    match.source_channel.push_back(c);
  }
  return match;
}

// Each channel steps from its number to ten times that at 1 s.
ContactSampler sampled(std::size_t channels, std::int64_t rate_hz, double length_s) {
  ContactSampler sampler;
  sampler.begin(match_of(channels, rate_hz));
  for (std::size_t c = 0; c < channels; ++c) {
    const auto v = static_cast<double>(c + 1);
    const Wave wave = Wave(rate_hz).hold(v, 1).hold(10 * v, length_s);
    sampler.take({.channel = c, .clock = wave.clock, .values = wave.values});
  }
  return sampler;
}

TEST(ContactSamples, AreMeansOverAnEvenGrid) {
  const std::vector<ContactSample> samples = sampled(5, 1000, 2).samples();
  ASSERT_EQ(samples.size(), 40U);  // 2 s in steps of 50 ms
  for (std::size_t k = 0; k < samples.size(); ++k) {
    EXPECT_NEAR(samples[k].time_s, 0.05 * static_cast<double>(k), 1e-9);
    const double factor = k < 20 ? 1 : 10;
    EXPECT_DOUBLE_EQ(samples[k].line_kpa, 1 * factor) << k;
    EXPECT_DOUBLE_EQ(samples[k].current_a, 2 * factor) << k;
    EXPECT_DOUBLE_EQ(samples[k].contact_v[2], 3 * factor) << k;
    EXPECT_DOUBLE_EQ(samples[k].contact_v[1], 4 * factor) << k;
    EXPECT_DOUBLE_EQ(samples[k].contact_v[0], 5 * factor) << k;
  }
}

// Ten minutes do not fit the finest grid: a coarser one, within what the finding takes.
TEST(ContactSamples, ALongCaptureHasACoarserGrid) {
  const std::vector<ContactSample> samples = sampled(5, 50, 600).samples();
  ASSERT_GT(samples.size(), 2U);
  const double step_s = samples[1].time_s - samples[0].time_s;
  EXPECT_GT(step_s, 0.05);
  EXPECT_LE(step_s, 0.25);
  EXPECT_NEAR(static_cast<double>(samples.size()) * step_s, 600, step_s);
  EXPECT_DOUBLE_EQ(samples.back().contact_v[0], 50);
}

TEST(ContactSamples, OnlyThePressureMayBeMissing) {
  EXPECT_TRUE(sampled(4, 1000, 2).samples().empty());  // contact A is not measured
  ContactSampler no_pressure;
  RigMatch match = match_of(5, 1000);
  match.channels.erase(match.channels.begin());
  no_pressure.begin(match);
  for (std::size_t c = 0; c < 4; ++c) {
    const Wave wave = Wave(1000).hold(static_cast<double>(c), 1);
    no_pressure.take({.channel = c, .clock = wave.clock, .values = wave.values});
  }
  ASSERT_FALSE(no_pressure.samples().empty());
  EXPECT_EQ(no_pressure.samples()[0].line_kpa, 0);
  EXPECT_EQ(no_pressure.names()[0], "FEED_A_VOLTAGE");
}

}  // namespace
}  // namespace airlatch
