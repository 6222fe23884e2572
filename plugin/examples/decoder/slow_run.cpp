// SPDX-License-Identifier: GPL-3.0-or-later
// A decoder from outside the tree: runs that take longer than a workshop likes, as a RUN_ON of
// their own limit. It receives the events of all built-in decoders, and is tried on a drawn
// current.
//
//     slow_run      prints "slow: 2.00 s" for each run that was too long
#include <cstdio>
#include <memory>
#include <vector>

#include "decoders/chain.hpp"
#include "decoders/decoder.hpp"

namespace {

class SlowRun final : public airlatch::Decoder {
 public:
  SlowRun(airlatch::CaptureContext& context, double limit_s)
      : Decoder(context), limit_s_(limit_s) {}
  void on_event(const airlatch::Event& lower) override {
    if (lower.kind == airlatch::Kind::MOTOR_START) start_s_ = lower.time_s;
    if (lower.kind != airlatch::Kind::MOTOR_STOP && lower.kind != airlatch::Kind::STALL_CUTOFF)
      return;
    if (lower.time_s - start_s_ <= limit_s_) return;
    airlatch::Event slow;
    slow.kind = airlatch::Kind::RUN_ON;
    slow.time_s = lower.time_s;
    emit(slow);
  }

 private:
  double limit_s_, start_s_ = 0;
};

}  // namespace

int main() {
  using namespace airlatch;
  ChainChannel motor;
  motor.rig.source = "motor_a";
  motor.rig.role = Role::MOTOR_CURRENT;
  motor.clock = SampleClock::of_rate(1000);
  ChainSettings settings;
  settings.more.emplace_back(
      [](CaptureContext& context) { return std::make_unique<SlowRun>(context, 1.5); });
  Chain chain({motor}, settings);
  double start_s = 0;
  chain.on_event.connect([&](const Event& event) {
    if (event.kind == Kind::MOTOR_START) start_s = event.time_s;
    if (event.kind == Kind::RUN_ON) std::printf("slow: %.2f s\n", event.time_s - start_s);
  });
  // At rest, a run of 1 s, at rest, a run of 2 s, at rest; a little noise so that levels show.
  std::vector<float> amps;
  for (int ms = 0; ms < 8000; ++ms) {
    const bool runs = (ms >= 1000 && ms < 2000) || (ms >= 4000 && ms < 6000);
    const float noise = 0.01F * static_cast<float>((ms * 7919) % 13 - 6) / 6.0F;
    amps.push_back((runs ? 4.0F : 0.0F) + noise);
  }
  chain.push({.channel = 0, .clock = motor.clock, .values = amps});
  chain.finish();
}
