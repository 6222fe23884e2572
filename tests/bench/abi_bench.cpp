// SPDX-License-Identifier: GPL-3.0-or-later
// What the C ABI costs: the same blocks pushed through it and into the decoders directly, in turn,
// in the same run; and how long an event takes from the push that made it decidable to the
// callback.
#include <benchmark/benchmark.h>

#include <algorithm>
#include <chrono>
#include <vector>

#include "decoders/chain.hpp"
#include "plugin/airlatch.h"
#include "plugin/message/wire.hpp"
#include "plugin/rehearse/rehearsal.hpp"

namespace airlatch {
namespace {
using Clock = std::chrono::steady_clock;
constexpr std::size_t kBlock = 4096;

const Rehearsal& capture() {
  static const Rehearsal r =
      rehearse({.fault = "line-leak", .rate_hz = 10000, .seed = 5, .hold_s = 20});
  return r;
}

struct Watch {
  Clock::time_point pushed;
  std::vector<double> ways_s;
  void received() {
    ways_s.push_back(std::chrono::duration<double>(Clock::now() - pushed).count());
  }
};

double directly_s(std::size_t cut, Watch& watch) {
  const Rehearsal& r = capture();
  std::vector<ChainChannel> channels;
  for (int c = 0; c < std::ssize(r.rig.channel); ++c)
    channels.push_back({.rig = r.rig.channel[c], .clock = r.clock});
  const auto start = Clock::now();
  Chain chain(channels, {.rig = r.rig});
  std::size_t events = 0;
  std::string bytes;
  chain.on_event.connect([&](const Event& event) {
    bytes = to_wire(event);
    events += bytes.size();
    watch.received();
  });
  const std::size_t n = r.channels[0].values.size();
  for (std::size_t k = 0; k < n; k += cut)
    for (std::size_t c = 0; c < r.channels.size(); ++c) {
      watch.pushed = Clock::now();
      chain.push({.channel = c,
                  .clock = r.clock,
                  .first = static_cast<std::int64_t>(k),
                  .values = std::span(r.channels[c].values).subspan(k, std::min(cut, n - k))});
    }
  chain.finish();
  benchmark::DoNotOptimize(events);
  return std::chrono::duration<double>(Clock::now() - start).count();
}

double through_abi_s(std::size_t cut, Watch& watch) {
  const Rehearsal& r = capture();
  const std::string rig = to_wire(r.rig);
  std::vector<airlatch_channel> channels;
  for (const auto& channel : r.channels) channels.push_back({channel.name.c_str(), 0});
  airlatch_options options = AIRLATCH_OPTIONS_INIT;
  options.rig = rig.data();
  options.rig_size = rig.size();
  options.format = AIRLATCH_BINARY;
  options.channels = channels.data();
  options.channel_count = channels.size();
  options.context = &watch;
  options.on_event = [](const void*, std::size_t, void* data) {
    static_cast<Watch*>(data)->received();
  };
  const auto start = Clock::now();
  airlatch_decoder* decoder = nullptr;
  airlatch_create(&options, &decoder);
  const std::size_t n = r.channels[0].values.size();
  for (std::size_t k = 0; k < n; k += cut)
    for (std::uint32_t c = 0; c < r.channels.size(); ++c) {
      airlatch_block block = {};
      block.struct_size = sizeof block;
      block.channel = c;
      block.start_ns = r.clock.time_ns(static_cast<std::int64_t>(k));
      block.period_num_ns = r.clock.num_ns;
      block.period_den = r.clock.den;
      block.floats = r.channels[c].values.data() + k;
      block.count = std::min(cut, n - k);
      watch.pushed = Clock::now();
      airlatch_push(decoder, &block);
    }
  airlatch_finish(decoder);
  airlatch_destroy(decoder);
  return std::chrono::duration<double>(Clock::now() - start).count();
}

void boundary(benchmark::State& state) {
  std::vector<double> ratios;
  Watch watch;
  for (auto _ : state) {
    const double direct_s = directly_s(kBlock, watch);
    ratios.push_back(through_abi_s(kBlock, watch) / direct_s);
  }
  std::sort(ratios.begin(), ratios.end());
  state.counters["abi_over_direct"] = ratios[ratios.size() / 2];
}

// Pushed in steps of one millisecond, as a live host does: from the push to the callback, decoding
// included, and what of that the boundary adds (the same event's way without it taken off).
void way_of_an_event(benchmark::State& state) {
  std::vector<double> through, added;
  for (auto _ : state) {
    Watch direct, abi;
    directly_s(10, direct);
    through_abi_s(10, abi);
    for (std::size_t k = 0; k < std::min(direct.ways_s.size(), abi.ways_s.size()); ++k) {
      through.push_back(abi.ways_s[k]);
      added.push_back(abi.ways_s[k] - direct.ways_s[k]);
    }
  }
  const auto median_us = [](std::vector<double>& v) {
    std::sort(v.begin(), v.end());
    return 1e6 * v[v.size() / 2];
  };
  state.counters["median_us"] = median_us(through);
  state.counters["added_median_us"] = median_us(added);
  state.counters["worst_us"] = 1e6 * through.back();
}

BENCHMARK(boundary)->Unit(benchmark::kMillisecond)->MinTime(3);
BENCHMARK(way_of_an_event)->Unit(benchmark::kMillisecond)->MinTime(1);

}  // namespace
}  // namespace airlatch
