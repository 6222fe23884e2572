// SPDX-License-Identifier: GPL-3.0-or-later
// Four channels of floats in memory through all decoders, beside reading and summing the same
// memory, vectorised. `ratio` is decoding's samples/s over those of the sum, measured in the same
// run.
#include <benchmark/benchmark.h>

#include <chrono>

#include "decoders/chain.hpp"
#include "plugin/rehearse/random.hpp"
#include "plugin/rehearse/rehearsal.hpp"
#include "plugin/report/envelope.hpp"

namespace airlatch {
namespace {

constexpr std::int64_t kRate_hz = 10000;
constexpr std::size_t kBlock = 4096;

struct Capture {
  std::vector<ChainChannel> channels;
  std::vector<std::vector<float>> values;
  [[nodiscard]] std::int64_t samples() const {
    return static_cast<std::int64_t>(values.size() * values.front().size());
  }
};

// Busy: a run, a few seconds of rest, a run. Quiet: half a minute or more from run to run.
Capture capture(double hold_s, std::int64_t rate_hz = kRate_hz) {
  const Rehearsal r =
      rehearse({.fault = "line-leak", .rate_hz = rate_hz, .seed = 5, .hold_s = hold_s});
  Capture out;
  for (const std::size_t c : {0U, 1U, 4U, 5U}) {
    out.channels.push_back(
        {.rig = r.rig.channel[static_cast<int>(c)], .clock = r.clock, .logic = false});
    out.values.push_back(r.channels[c].values);
  }
  return out;
}

// No runs at all: ten minutes of noise.
Capture idle() {
  Capture out = capture(1);
  Random random(9);
  for (auto& values : out.values) {
    const float level = values.front();
    values.resize(600 * kRate_hz);
    for (float& v : values) v = level + 0.01F * static_cast<float>(random.normal());
  }
  return out;
}

// As fast as the memory gives it: independent sums side by side, so that no addition waits for the
// one before it, and the widest registers that the processor has.
__attribute__((target_clones("avx512f", "avx2", "default"))) float sum_of(const float* values,
                                                                          std::size_t n) {
  constexpr std::size_t kLanes = 64;
  float lanes[kLanes] = {};
  std::size_t k = 0;
  for (; k + kLanes <= n; k += kLanes)
    for (std::size_t lane = 0; lane < kLanes; ++lane) lanes[lane] += values[k + lane];
  float sum = 0;
  for (; k < n; ++k) sum += values[k];
  for (const float lane : lanes) sum += lane;
  return sum;
}

double sum_all(const Capture& capture) {
  double sum = 0;
  for (const auto& values : capture.values)
    sum += static_cast<double>(sum_of(values.data(), values.size()));
  return sum;
}

std::size_t decode(const Capture& capture) {
  Chain chain(capture.channels, {});
  std::size_t events = 0;
  chain.on_event.connect([&](const Event&) { ++events; });
  const std::size_t n = capture.values.front().size();
  for (std::size_t k = 0; k < n; k += kBlock)
    for (std::size_t c = 0; c < capture.values.size(); ++c)
      chain.push({.channel = c,
                  .clock = capture.channels[c].clock,
                  .first = static_cast<std::int64_t>(k),
                  .values = std::span(capture.values[c]).subspan(k, std::min(kBlock, n - k))});
  chain.finish();
  return events;
}

void beside_a_sum(benchmark::State& state, const Capture& capture) {
  using Clock = std::chrono::steady_clock;
  double decode_s = 0, sum_s = 0;
  std::size_t events = 0;
  for (auto _ : state) {
    const auto a = Clock::now();
    benchmark::DoNotOptimize(sum_all(capture));
    const auto b = Clock::now();
    benchmark::DoNotOptimize(events = decode(capture));
    const auto c = Clock::now();
    sum_s += std::chrono::duration<double>(b - a).count();
    decode_s += std::chrono::duration<double>(c - b).count();
  }
  const auto samples = static_cast<double>(capture.samples() * state.iterations());
  state.counters["decode_Ms/s"] = samples / decode_s / 1e6;
  state.counters["sum_Ms/s"] = samples / sum_s / 1e6;
  state.counters["ratio"] = sum_s / decode_s;
  state.counters["events"] = static_cast<double>(events);
}

void idle_channels(benchmark::State& state) { beside_a_sum(state, idle()); }
void run_a_minute(benchmark::State& state) { beside_a_sum(state, capture(56)); }
void run_every_30_s(benchmark::State& state) { beside_a_sum(state, capture(26)); }
void back_to_back(benchmark::State& state) { beside_a_sum(state, capture(3)); }

// What the pictures' envelopes take beside decoding, over six hours at 1 kS/s: `plots` is their
// share of its time.
void plots(benchmark::State& state) {
  using Clock = std::chrono::steady_clock;
  constexpr std::int64_t kTimes = 400;
  const Capture what = capture(26, 1000);
  const auto n = static_cast<std::int64_t>(what.values.front().size());
  double decode_s = 0, draw_s = 0;
  for (auto _ : state) {
    Chain chain(what.channels, {});
    std::vector<Envelope> envelopes(what.values.size());
    const auto blocks = [&](auto&& take) {
      const auto began = Clock::now();
      for (std::int64_t k = 0; k < kTimes * n; k += n)
        for (std::size_t c = 0; c < what.values.size(); ++c)
          take(SampleBlock{
              .channel = c, .clock = what.channels[c].clock, .first = k, .values = what.values[c]});
      return std::chrono::duration<double>(Clock::now() - began).count();
    };
    decode_s += blocks([&](const SampleBlock& block) { chain.push(block); });
    draw_s += blocks([&](const SampleBlock& block) { envelopes[block.channel].add(block, 0); });
    benchmark::DoNotOptimize(envelopes.data());
  }
  state.counters["plots"] = draw_s / decode_s;
}

BENCHMARK(plots)->Unit(benchmark::kMillisecond);
BENCHMARK(idle_channels)->Unit(benchmark::kMillisecond);
BENCHMARK(run_every_30_s)->Unit(benchmark::kMillisecond);
BENCHMARK(run_a_minute)->Unit(benchmark::kMillisecond);
BENCHMARK(back_to_back)->Unit(benchmark::kMillisecond);

}  // namespace
}  // namespace airlatch
