// SPDX-License-Identifier: GPL-3.0-or-later
#include "decoders/quiet.hpp"

#include <gtest/gtest.h>

#include "decoders/chain.hpp"
#include "tests/support/run_waves.hpp"

namespace airlatch {
namespace {
using namespace test;
using End = RunWaves::End;

// A decoder at the end of the list that asks for a role's noise when all has been seen.
class Asks final : public Decoder {
 public:
  Asks(CaptureContext& context, std::array<double, kRoles>& sd) : Decoder(context), sd_(sd) {}
  void finish(double /*end_s*/) override {
    for (std::size_t k = 0; k < kRoles; ++k) {
      const auto role = static_cast<Role>(k);
      if (!context_.has(role)) continue;
      const NoiseModel& model = context_.noise_of(role);
      sd_[k] = model.learnt ? std::sqrt(model.h0 / 2 / context_.track(role).period_s()) : -1;
    }
  }

 private:
  std::array<double, kRoles>& sd_;
};

std::array<double, kRoles> learnt_sd(const Waves& waves) {
  std::array<double, kRoles> sd = {};
  ChainSettings settings;
  settings.more.push_back(
      [&sd](CaptureContext& context) { return std::make_unique<Asks>(context, sd); });
  decode(waves, 4096, settings);
  return sd;
}

// Runs, edges and what they leave behind do not enter: 12 V of feed beside 5 mV of noise would show.
TEST(Quiet, LearnsTheNoiseAndNotTheRuns) {
  RunWaves waves(1000);
  waves.rest(2);
  double kpa = 0;
  for (int run = 0; run < 5; ++run) {
    const double t_s = 2 + 4 * run;
    kpa += 5;
    waves.run(run % 2 == 0 ? Contact::A : Contact::B, t_s + 1, kpa, End::kCutOff, t_s + 2);
    waves.rest(t_s + 4);
  }
  waves.noise(11);
  const auto sd = learnt_sd(waves.all());
  EXPECT_NEAR(sd[static_cast<std::size_t>(Role::FEED_A_VOLTAGE)], 0.006, 0.001);
  EXPECT_NEAR(sd[static_cast<std::size_t>(Role::MOTOR_CURRENT)], 0.012, 0.002);
}

}  // namespace
}  // namespace airlatch
