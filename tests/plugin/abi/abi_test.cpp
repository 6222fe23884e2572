// SPDX-License-Identifier: GPL-3.0-or-later
// The C ABI as a foreign host uses and misuses it.
#include <gtest/gtest.h>

#include <atomic>
#include <limits>
#include <thread>

#include "decoders/chain.hpp"
#include "plugin/airlatch.h"
#include "plugin/message/report.hpp"
#include "plugin/message/wire.hpp"
#include "plugin/rehearse/rehearsal.hpp"
#include "tests/plugin/abi/failing_new.hpp"
#include "tests/support/score.hpp"

namespace airlatch {
namespace {
using namespace test;

void keep(const void* event, std::size_t size, void* context) {
  static_cast<std::string*>(context)->append(static_cast<const char*>(event), size);
}

struct Host {
  std::string rig, events;
  std::vector<airlatch_channel> channels;
  std::vector<std::string> names;
  airlatch_decoder* decoder = nullptr;

  explicit Host(const Rehearsal& r, bool call_back = true) {
    rig = to_wire(r.rig);
    for (const auto& channel : r.channels) names.push_back(channel.name);
    for (const std::string& name : names) channels.push_back({name.c_str(), 0});
    airlatch_options options = AIRLATCH_OPTIONS_INIT;
    options.rig = rig.data();
    options.rig_size = rig.size();
    options.format = AIRLATCH_BINARY;
    options.channels = channels.data();
    options.channel_count = channels.size();
    if (call_back) options.on_event = keep;
    options.context = &events;
    EXPECT_EQ(airlatch_create(&options, &decoder), AIRLATCH_OK) << airlatch_last_error(nullptr);
  }
  ~Host() { EXPECT_EQ(airlatch_destroy(decoder), AIRLATCH_OK); }
  Host(const Host&) = delete;
  Host& operator=(const Host&) = delete;

  // Cuts all channels alike; start times are told in nanoseconds, as any host has them.
  void push_all(const Rehearsal& r, std::size_t cut, bool as_doubles = false) {
    const std::size_t n = r.channels[0].values.size();
    for (std::size_t at = 0; at < n; at += cut)
      for (std::size_t c = 0; c < r.channels.size(); ++c) {
        const std::size_t count = std::min(cut, n - at);
        airlatch_block block = {};
        block.struct_size = sizeof block;
        block.channel = static_cast<std::uint32_t>(c);
        block.start_ns = r.clock.time_ns(static_cast<std::int64_t>(at));
        block.period_num_ns = r.clock.num_ns;
        block.period_den = r.clock.den;
        block.count = count;
        const std::vector<double> doubles(
            r.channels[c].values.begin() + static_cast<std::ptrdiff_t>(at),
            r.channels[c].values.begin() + static_cast<std::ptrdiff_t>(at + count));
        if (as_doubles)
          block.doubles = doubles.data();
        else
          block.floats = r.channels[c].values.data() + at;
        ASSERT_EQ(airlatch_push(decoder, &block), AIRLATCH_OK) << airlatch_last_error(decoder);
      }
  }
};

const Rehearsal& sound() {
  static const Rehearsal r =
      rehearse({.fault = "line-leak", .rate_hz = 3000, .seed = 71, .hold_s = 6});
  return r;
}

std::string directly(const Rehearsal& r) {
  std::string out;
  for (const Event& event : decode_rehearsal(r)) out += to_wire(event);
  return out;
}

// 3000/s has no whole number of nanoseconds between samples: the cuts must not show.
TEST(Abi, SameBytesAsTheDecodersHoweverCut) {
  const std::string expected = directly(sound());
  ASSERT_FALSE(expected.empty());
  for (const std::size_t cut : {std::size_t{997}, std::size_t{4096}, std::size_t{1'000'000}}) {
    Host host(sound());
    host.push_all(sound(), cut, cut == 997);
    EXPECT_EQ(airlatch_finish(host.decoder), AIRLATCH_OK);
    EXPECT_EQ(host.events, expected) << cut;
  }
}

TEST(Abi, PollGivesWhatTheCallbackWouldHave) {
  Host host(sound(), false);
  host.push_all(sound(), 4096);
  airlatch_finish(host.decoder);
  const void* event = nullptr;
  std::size_t size = 0;
  std::string all;
  while (airlatch_poll(host.decoder, &event, &size) == AIRLATCH_OK) keep(event, size, &all);
  EXPECT_EQ(all, directly(sound()));
  EXPECT_EQ(airlatch_poll(host.decoder, &event, &size), AIRLATCH_NO_EVENT);
}

TEST(Abi, ReportAndReset) {
  Host host(sound());
  const void* bytes = nullptr;
  std::size_t size = 0;
  EXPECT_EQ(airlatch_report(host.decoder, &bytes, &size), AIRLATCH_MISUSE);
  std::string first;
  for (int round = 0; round < 2; ++round) {
    host.events.clear();
    host.push_all(sound(), 4096);
    ASSERT_EQ(airlatch_finish(host.decoder), AIRLATCH_OK);
    ASSERT_EQ(airlatch_report(host.decoder, &bytes, &size), AIRLATCH_OK);
    const std::string report(static_cast<const char*>(bytes), size);
    if (round == 0) first = report;
    EXPECT_EQ(report, first);
    EXPECT_EQ(host.events, directly(sound()));
    ASSERT_EQ(airlatch_reset(host.decoder), AIRLATCH_OK);
  }
  Report report;
  ASSERT_TRUE(from_wire(first, report));
  EXPECT_EQ(report.findings[0].code, "LINE_LEAK");
  EXPECT_EQ(std::ssize(report.runs), 2);
  EXPECT_EQ(std::ssize(report.captures[0].channels), 6);
  EXPECT_NEAR(report.captures[0].channels[0].rate_hz, 3000, 1e-9);
}

// A channel that falls silent holds the others' events until the host says that time has passed.
TEST(Abi, FlushLetsTheOthersGoOn) {
  const Rehearsal& r = sound();
  Host host(r);
  const std::size_t n = r.channels[0].values.size();
  for (std::uint32_t c = 0; c < r.channels.size(); ++c) {
    airlatch_block block = {};
    block.struct_size = sizeof block;
    block.channel = c;
    block.period_num_ns = r.clock.num_ns;
    block.period_den = r.clock.den;
    block.floats = r.channels[c].values.data();
    block.count = r.channels[c].role == Role::RETURN_VOLTAGE ? 10 : n;
    ASSERT_EQ(airlatch_push(host.decoder, &block), AIRLATCH_OK);
  }
  EXPECT_TRUE(host.events.empty());
  EXPECT_EQ(airlatch_flush(host.decoder, r.clock.time_ns(static_cast<std::int64_t>(n))),
            AIRLATCH_OK);
  EXPECT_FALSE(host.events.empty());
}

TEST(Abi, MisuseIsAnswered) {
  EXPECT_EQ(airlatch_create(nullptr, nullptr), AIRLATCH_MISUSE);
  airlatch_decoder* decoder = nullptr;
  EXPECT_EQ(airlatch_create(nullptr, &decoder), AIRLATCH_MISUSE);
  EXPECT_NE(std::string(airlatch_last_error(nullptr)), "");
  airlatch_options options = AIRLATCH_OPTIONS_INIT;
  EXPECT_EQ(airlatch_create(&options, &decoder), AIRLATCH_MISUSE);
  EXPECT_EQ(airlatch_push(nullptr, nullptr), AIRLATCH_MISUSE);
  EXPECT_EQ(airlatch_finish(nullptr), AIRLATCH_MISUSE);
  EXPECT_EQ(airlatch_destroy(nullptr), AIRLATCH_OK);
  airlatch_channel channel = {"CH1", 0};
  options.channels = &channel;
  options.channel_count = 1;
  EXPECT_EQ(airlatch_create(&options, &decoder), AIRLATCH_BAD_SETUP);  // no role
  EXPECT_EQ(decoder, nullptr);
  channel.name = "\xff\xfe";
  EXPECT_EQ(airlatch_create(&options, &decoder), AIRLATCH_BAD_SETUP);
  channel.name = "motor_a";
  const std::string bad = "name: \"x\"\nnonsense: 1";
  options.rig = bad.data();
  options.rig_size = bad.size();
  EXPECT_EQ(airlatch_create(&options, &decoder), AIRLATCH_BAD_SETUP);
  EXPECT_NE(std::string(airlatch_last_error(nullptr)).find("line 2"), std::string::npos);
  options.format = AIRLATCH_BINARY;
  EXPECT_EQ(airlatch_create(&options, &decoder), AIRLATCH_BAD_SETUP);

  Host host(sound());
  airlatch_block block = {};
  EXPECT_EQ(airlatch_push(host.decoder, &block), AIRLATCH_MISUSE);
  block.struct_size = sizeof block;
  block.channel = 99;
  EXPECT_EQ(airlatch_push(host.decoder, &block), AIRLATCH_BAD_BLOCK);
  block.channel = 0;
  EXPECT_EQ(airlatch_push(host.decoder, &block), AIRLATCH_OK);  // nothing in it
  block.count = 1;
  EXPECT_EQ(airlatch_push(host.decoder, &block), AIRLATCH_BAD_BLOCK);  // no values
  const float value = 1;
  block.floats = &value;
  EXPECT_EQ(airlatch_push(host.decoder, &block), AIRLATCH_BAD_BLOCK);  // no period
  block.period_num_ns = block.period_den = 1;
  block.count = std::numeric_limits<std::size_t>::max();
  EXPECT_EQ(airlatch_push(host.decoder, &block), AIRLATCH_BAD_BLOCK);
  block.count = 1;
  block.start_ns = std::numeric_limits<std::int64_t>::min();
  EXPECT_EQ(airlatch_push(host.decoder, &block), AIRLATCH_BAD_BLOCK);
  block.start_ns = 5;
  EXPECT_EQ(airlatch_push(host.decoder, &block), AIRLATCH_OK);
  EXPECT_EQ(airlatch_push(host.decoder, &block), AIRLATCH_OK);  // the same time again: dropped
  std::int64_t dropped = 0;
  EXPECT_EQ(airlatch_dropped(host.decoder, &dropped), AIRLATCH_OK);
  EXPECT_EQ(dropped, 1);
  EXPECT_EQ(airlatch_finish(host.decoder), AIRLATCH_OK);
  EXPECT_EQ(airlatch_finish(host.decoder), AIRLATCH_MISUSE);
  EXPECT_EQ(airlatch_push(host.decoder, &block), AIRLATCH_MISUSE);
}

// Samples of a run, and the next one a hundred years later; and a clock of a thousand samples a
// nanosecond: both are odd, and neither may take long.
TEST(Abi, OddTimesTakeNoTime) {
  airlatch_channel channel = {"motor_a", 0};
  airlatch_options options = AIRLATCH_OPTIONS_INIT;
  options.channels = &channel;
  options.channel_count = 1;
  airlatch_decoder* decoder = nullptr;
  ASSERT_EQ(airlatch_create(&options, &decoder), AIRLATCH_OK);
  std::vector<float> amps(3000, 0.0F);
  for (std::size_t k = 1000; k < amps.size(); ++k) amps[k] = 4;
  airlatch_block block = {};
  block.struct_size = sizeof block;
  block.period_num_ns = 1'000'000;
  block.period_den = 1;
  block.floats = amps.data();
  block.count = amps.size();
  EXPECT_EQ(airlatch_push(decoder, &block), AIRLATCH_OK);
  block.start_ns = 3'000'000'000'000'000'000;
  EXPECT_EQ(airlatch_push(decoder, &block), AIRLATCH_OK);
  block.start_ns = 3'500'000'000'000'000'000;
  block.period_num_ns = 1;
  block.period_den = 1000;
  EXPECT_EQ(airlatch_push(decoder, &block), AIRLATCH_OK);
  block.period_den = 1'000'000;
  EXPECT_EQ(airlatch_push(decoder, &block), AIRLATCH_BAD_BLOCK);
  EXPECT_EQ(airlatch_finish(decoder), AIRLATCH_OK);
  EXPECT_EQ(airlatch_destroy(decoder), AIRLATCH_OK);
}

struct Reentrant {
  airlatch_decoder* decoder = nullptr;
  int answered = 0;
};

TEST(Abi, CallsFromInsideTheCallbackAreRefused) {
  const Rehearsal& r = sound();
  Reentrant context;
  std::vector<airlatch_channel> channels;
  for (const auto& channel : r.channels) channels.push_back({channel.name.c_str(), 0});
  airlatch_options options = AIRLATCH_OPTIONS_INIT;
  options.channels = channels.data();
  options.channel_count = channels.size();
  options.context = &context;
  options.on_event = [](const void*, std::size_t, void* data) {
    auto& in = *static_cast<Reentrant*>(data);
    in.answered += airlatch_finish(in.decoder) == AIRLATCH_MISUSE &&
                   airlatch_destroy(in.decoder) == AIRLATCH_MISUSE &&
                   airlatch_reset(in.decoder) == AIRLATCH_MISUSE;
  };
  ASSERT_EQ(airlatch_create(&options, &context.decoder), AIRLATCH_OK);
  for (std::uint32_t c = 0; c < r.channels.size(); ++c) {
    airlatch_block block = {};
    block.struct_size = sizeof block;
    block.channel = c;
    block.period_num_ns = r.clock.num_ns;
    block.period_den = r.clock.den;
    block.floats = r.channels[c].values.data();
    block.count = r.channels[c].values.size();
    EXPECT_EQ(airlatch_push(context.decoder, &block), AIRLATCH_OK);
  }
  airlatch_finish(context.decoder);
  EXPECT_GT(context.answered, 5);
  EXPECT_EQ(airlatch_destroy(context.decoder), AIRLATCH_OK);
}

// A host that was compiled when the structs were shorter, and one of tomorrow with longer ones.
TEST(Abi, OlderAndNewerHostsWork) {
  struct OldOptions {  // as a first host may have had it: no callback yet
    std::size_t struct_size;
    const void* rig;
    std::size_t rig_size;
    const void* plan;
    std::size_t plan_size;
    std::uint32_t format;
    std::size_t channel_size;
    const void* channels;
    std::size_t channel_count;
  };
  struct OldChannel {
    const char* name;
  };
  const OldChannel old_channels[] = {{"motor_a"}, {"line_kpa"}};
  const OldOptions old = {sizeof(OldOptions), nullptr,      0, "bench-pump", 10, 0,
                          sizeof(OldChannel), old_channels, 2};
  airlatch_decoder* decoder = nullptr;
  EXPECT_EQ(airlatch_create(reinterpret_cast<const airlatch_options*>(&old), &decoder), AIRLATCH_OK)
      << airlatch_last_error(nullptr);
  airlatch_destroy(decoder);

  struct NewChannel {
    airlatch_channel known;
    double tomorrow[3];
  };
  struct NewOptions {
    airlatch_options known;
    void* tomorrow[4];
  };
  const NewChannel new_channels[] = {{{"motor_a", 0}, {1, 2, 3}}, {{"line_kpa", 0}, {1, 2, 3}}};
  NewOptions newer = {AIRLATCH_OPTIONS_INIT, {}};
  newer.known.struct_size = sizeof newer;
  newer.known.channel_size = sizeof(NewChannel);
  newer.known.channels = &new_channels[0].known;
  newer.known.channel_count = 2;
  EXPECT_EQ(airlatch_create(&newer.known, &decoder), AIRLATCH_OK) << airlatch_last_error(nullptr);
  struct NewBlock {
    airlatch_block known;
    std::uint64_t tomorrow;
  } block = {};
  const float value = 1;
  block.known.struct_size = sizeof block;
  block.known.channel = 1;
  block.known.period_num_ns = block.known.period_den = 1;
  block.known.floats = &value;
  block.known.count = 1;
  EXPECT_EQ(airlatch_push(decoder, &block.known), AIRLATCH_OK);
  airlatch_destroy(decoder);
  airlatch_info info = {sizeof(std::size_t) + sizeof(std::uint32_t), 0, 77, nullptr};
  EXPECT_EQ(airlatch_get_info(&info), AIRLATCH_OK);
  EXPECT_EQ(info.abi, AIRLATCH_ABI + 0U);
  EXPECT_EQ(info.capabilities, 77U);  // beyond the size it gave
}

// Each allocation fails in turn: an error code, never a crash, and a reset mends it.
TEST(Abi, NoMemoryIsAnErrorCode) {
  const Rehearsal r = rehearse({.fault = "sound", .rate_hz = 200, .seed = 72, .hold_s = 3});
  const std::string expected = directly(r);
  Host host(r);
  int failures = 0;
  for (long n = 0; n < 4000; n = n < 200 ? n + 1 : n + 37) {
    airlatch_reset(host.decoder);
    host.events.clear();
    host.events.reserve(1 << 20);
    bool failed = false;
    fail_in = n;
    for (std::uint32_t c = 0; c < r.channels.size() && !failed; ++c) {
      airlatch_block block = {};
      block.struct_size = sizeof block;
      block.channel = c;
      block.period_num_ns = r.clock.num_ns;
      block.period_den = r.clock.den;
      block.floats = r.channels[c].values.data();
      block.count = r.channels[c].values.size();
      const airlatch_status status = airlatch_push(host.decoder, &block);
      ASSERT_TRUE(status == AIRLATCH_OK || status == AIRLATCH_NO_MEMORY) << n;
      failed = status != AIRLATCH_OK;
      if (failed) {
        EXPECT_EQ(airlatch_push(host.decoder, &block), AIRLATCH_BROKEN);
      }
    }
    fail_in = -1;
    failures += failed;
  }
  EXPECT_GT(failures, 200);
  ASSERT_EQ(airlatch_reset(host.decoder), AIRLATCH_OK);
  host.events.clear();
  host.push_all(r, 4096);
  airlatch_finish(host.decoder);
  EXPECT_EQ(host.events, expected);
}

TEST(Abi, CreateWithoutMemory) {
  airlatch_channel channel = {"motor_a", 0};
  airlatch_options options = AIRLATCH_OPTIONS_INIT;
  options.channels = &channel;
  options.channel_count = 1;
  int refused = 0;
  for (long n = 0;; ++n) {
    airlatch_decoder* decoder = nullptr;
    fail_in = n;
    const airlatch_status status = airlatch_create(&options, &decoder);
    const bool used_up = fail_in >= 0;
    fail_in = -1;
    if (status == AIRLATCH_OK) {
      airlatch_destroy(decoder);
      if (used_up) break;  // it needs fewer than n
      continue;
    }
    ++refused;
    ASSERT_EQ(status, AIRLATCH_NO_MEMORY) << n;
    ASSERT_EQ(decoder, nullptr);
    ASSERT_LT(n, 100'000);
  }
  EXPECT_GT(refused, 20);
}

TEST(Abi, TwoThreadsDoNotDisturbEachOther) {
  const std::string expected = directly(sound());
  std::atomic<int> same = 0;
  const auto work = [&] {
    for (int round = 0; round < 2; ++round) {
      Host host(sound());
      host.push_all(sound(), 4096);
      airlatch_finish(host.decoder);
      same += host.events == expected;
    }
  };
  std::thread first(work), second(work);
  first.join();
  second.join();
  EXPECT_EQ(same, 4);
}

TEST(Abi, AThousandComeAndGo) {
  for (int k = 0; k < 1000; ++k) {
    Host host(sound());
    const float value = 1;
    airlatch_block block = {};
    block.struct_size = sizeof block;
    block.period_num_ns = block.period_den = 1;
    block.floats = &value;
    block.count = 1;
    ASSERT_EQ(airlatch_push(host.decoder, &block), AIRLATCH_OK);
  }
}

}  // namespace
}  // namespace airlatch
