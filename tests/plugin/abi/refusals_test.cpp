// SPDX-License-Identifier: GPL-3.0-or-later
// Every refusal that airlatch.h names: a status, one line of UTF-8 that says why, in the decoder or,
// where none can keep it, in the thread; and a decoder that works on as if it had not been asked.
#include <gtest/gtest.h>

#include <cstddef>
#include <functional>
#include <limits>
#include <stdexcept>
#include <thread>

#include "plugin/system/utf8.hpp"
#include "tests/plugin/abi/failing_new.hpp"
#include "tests/plugin/abi/session.hpp"
#include "tests/support/score.hpp"

namespace airlatch {
namespace {
using namespace test;

constexpr std::int64_t kTooFar_ns = 4'000'000'000'000'000'001;

void expect_reason(const char* reason, const std::string& about) {
  ASSERT_NE(reason, nullptr) << about;
  const std::string text = reason;
  EXPECT_FALSE(text.empty()) << about;
  EXPECT_TRUE(is_utf8(text)) << about;
  for (const char c : text)
    EXPECT_TRUE(static_cast<unsigned char>(c) >= 0x20 && c != 0x7f) << about << ": " << text;
}

// So that a reason of before cannot stand for one that was forgotten.
void clear_thread_reason() {
  airlatch_info info = {};
  info.struct_size = sizeof info;
  ASSERT_EQ(airlatch_get_info(&info), AIRLATCH_OK);
  ASSERT_STREQ(airlatch_last_error(nullptr), "");
}

const Rehearsal& sound() {
  static const Rehearsal r = rehearse({.fault = "sound", .rate_hz = 500, .seed = 84, .hold_s = 3});
  return r;
}

// --- airlatch_get_info and airlatch_create

TEST(Refusals, OfInfo) {
  airlatch_info info = {};
  for (const std::size_t size : {std::size_t{0}, std::size_t{1}, std::size_t{8}, std::size_t{11}}) {
    clear_thread_reason();
    info.struct_size = size;
    EXPECT_EQ(airlatch_get_info(&info), AIRLATCH_MISUSE) << size;
    expect_reason(airlatch_last_error(nullptr), std::to_string(size));
  }
  clear_thread_reason();
  EXPECT_EQ(airlatch_get_info(nullptr), AIRLATCH_MISUSE);
  expect_reason(airlatch_last_error(nullptr), "null");
}

struct HostSetup {
  airlatch_channel channel = {"motor_a", 0};
  airlatch_options options = AIRLATCH_OPTIONS_INIT;
  std::string rig, plan;
};

struct CreateCase {
  const char* name;
  airlatch_status status;
  std::function<void(HostSetup&)> spoil;
};

TEST(Refusals, OfCreate) {
  const std::string long_name = "r" + std::string(1500, 'x');
  const auto rig = [](const std::string& text, std::uint32_t format = AIRLATCH_TEXT) {
    return [=](HostSetup& s) { s.rig = text, s.options.format = format; };
  };
  const auto plan = [](const std::string& text, std::uint32_t format = AIRLATCH_TEXT) {
    return [=](HostSetup& s) { s.plan = text, s.options.format = format; };
  };
  const CreateCase cases[] = {
      {"struct_size 0", AIRLATCH_MISUSE, [](HostSetup& s) { s.options.struct_size = 0; }},
      {"struct_size below version 1's", AIRLATCH_MISUSE,
       [](HostSetup& s) { s.options.struct_size = offsetof(airlatch_options, on_event) - 1; }},
      {"no channels", AIRLATCH_MISUSE, [](HostSetup& s) { s.options.channels = nullptr; }},
      {"0 channels", AIRLATCH_MISUSE, [](HostSetup& s) { s.options.channel_count = 0; }},
      {"too many channels", AIRLATCH_MISUSE, [](HostSetup& s) { s.options.channel_count = 4097; }},
      {"most channels", AIRLATCH_MISUSE,
       [](HostSetup& s) { s.options.channel_count = std::numeric_limits<std::size_t>::max(); }},
      {"channel_size 0", AIRLATCH_MISUSE, [](HostSetup& s) { s.options.channel_size = 0; }},
      {"channel_size 7", AIRLATCH_MISUSE, [](HostSetup& s) { s.options.channel_size = 7; }},
      {"channel_size huge", AIRLATCH_MISUSE, [](HostSetup& s) { s.options.channel_size = 4097; }},
      {"a channel without name", AIRLATCH_MISUSE, [](HostSetup& s) { s.channel.name = nullptr; }},
      {"a name that is not UTF-8", AIRLATCH_BAD_SETUP,
       [](HostSetup& s) { s.channel.name = "\xff"; }},
      {"no role", AIRLATCH_BAD_SETUP, [](HostSetup& s) { s.channel.name = "CH1"; }},
      {"no role, long name", AIRLATCH_BAD_SETUP,
       [&](HostSetup& s) { s.channel.name = long_name.c_str(); }},
      {"format", AIRLATCH_MISUSE, [](HostSetup& s) { s.options.format = 2; }},
      {"event_format", AIRLATCH_MISUSE, [](HostSetup& s) { s.options.event_format = 2; }},
      {"event_format huge", AIRLATCH_MISUSE,
       [](HostSetup& s) { s.options.event_format = std::uint64_t{1} << 32; }},
      {"rig: unknown field", AIRLATCH_BAD_SETUP, rig("name: \"x\"\nnonsense: 1")},
      {"rig: long unknown field", AIRLATCH_BAD_SETUP, rig(long_name + ": 1")},
      {"rig: not UTF-8", AIRLATCH_BAD_SETUP, rig("name: \"\xff\xfe\"")},
      {"rig: not UTF-8 outside a string", AIRLATCH_BAD_SETUP, rig("\xff\xfe: 1")},
      {"rig: controls", AIRLATCH_BAD_SETUP, rig(std::string("\x01\r\x7f\0: 1", 7))},
      {"rig: a string over two lines", AIRLATCH_BAD_SETUP, rig("name: \"a\nb\" nonsense: 1")},
      {"rig: role twice", AIRLATCH_BAD_SETUP,
       rig("channel { source: \"a\" role: LINE_PRESSURE } "
           "channel { source: \"b\" role: LINE_PRESSURE }")},
      {"rig: no bytes of one", AIRLATCH_BAD_SETUP, rig("\xff\xff\xff", AIRLATCH_BINARY)},
      {"plan: no text of one", AIRLATCH_BAD_SETUP, plan("no-such-plan")},
      {"plan: bad limit", AIRLATCH_BAD_SETUP, plan("run_limit_s: -1")},
      {"plan: no bytes of one", AIRLATCH_BAD_SETUP, plan("\xff\xff\xff", AIRLATCH_BINARY)},
  };
  for (const CreateCase& one : cases) {
    HostSetup setup;
    setup.options.channels = &setup.channel;
    setup.options.channel_count = 1;
    one.spoil(setup);
    if (!setup.rig.empty())
      setup.options.rig = setup.rig.data(), setup.options.rig_size = setup.rig.size();
    if (!setup.plan.empty())
      setup.options.plan = setup.plan.data(), setup.options.plan_size = setup.plan.size();
    clear_thread_reason();
    int place = 0;
    auto* decoder = reinterpret_cast<airlatch_decoder*>(&place);
    EXPECT_EQ(airlatch_create(&setup.options, &decoder), one.status) << one.name;
    EXPECT_EQ(decoder, nullptr) << one.name;
    expect_reason(airlatch_last_error(nullptr), one.name);
  }
  HostSetup fine;
  fine.options.channels = &fine.channel;
  fine.options.channel_count = 1;
  airlatch_decoder* decoder = nullptr;
  clear_thread_reason();
  EXPECT_EQ(airlatch_create(&fine.options, nullptr), AIRLATCH_MISUSE);
  expect_reason(airlatch_last_error(nullptr), "nowhere to put it");
  clear_thread_reason();
  EXPECT_EQ(airlatch_create(nullptr, &decoder), AIRLATCH_MISUSE);
  expect_reason(airlatch_last_error(nullptr), "no options");
  ASSERT_EQ(airlatch_create(&fine.options, &decoder), AIRLATCH_OK);
  EXPECT_STREQ(airlatch_last_error(nullptr), "");  // a success leaves none
  EXPECT_EQ(airlatch_destroy(decoder), AIRLATCH_OK);
}

// Letters of two bytes, from an even and an odd place: what is left out of the middle halves none of
// them, and the mend is all there.
TEST(Refusals, ALongReasonIsShortenedBetweenLetters) {
  for (const std::string& before : {std::string("x"), std::string("xx")}) {
    std::string source = before;
    for (int k = 0; k < 490; ++k) source += "\xc3\xa4";
    const std::string entry = "channel { source: \"" + source + "\" role: ";
    const std::string rig = entry + "LINE_PRESSURE } " + entry + "MOTOR_CURRENT }";
    const airlatch_channel channel = {"motor_a", 0};
    airlatch_options options = AIRLATCH_OPTIONS_INIT;
    options.channels = &channel;
    options.channel_count = 1;
    options.rig = rig.data();
    options.rig_size = rig.size();
    airlatch_decoder* decoder = nullptr;
    EXPECT_EQ(airlatch_create(&options, &decoder), AIRLATCH_BAD_SETUP);
    const std::string reason = airlatch_last_error(nullptr);
    expect_reason(reason.c_str(), before);
    EXPECT_GE(reason.size(), 577U);
    EXPECT_LE(reason.size(), 580U);
    EXPECT_TRUE(is_utf8(reason)) << reason;
    EXPECT_TRUE(reason.ends_with("give each channel one role")) << reason;
  }
}

// --- calls for a decoder

using Call = std::function<airlatch_status(airlatch_decoder*)>;
struct CallCase {
  const char* name;
  airlatch_status status;
  Call call;
};

constexpr double kDoubles[] = {1};
constexpr std::int64_t kTimes_ns[] = {kTooFar_ns};

airlatch_status push_one(airlatch_decoder* decoder,
                         const std::function<void(airlatch_block&)>& spoil) {
  airlatch_block block = block_of(sound(), 0, 0, 1);
  spoil(block);
  return airlatch_push(decoder, &block);
}

// One fitting call of each function that takes a decoder.
std::vector<CallCase> one_of_each() {
  return {
      {"push", AIRLATCH_OK, [](auto* d) { return push_one(d, [](auto&) {}); }},
      {"flush", AIRLATCH_OK, [](auto* d) { return airlatch_flush(d, 0); }},
      {"end_channel", AIRLATCH_OK, [](auto* d) { return airlatch_end_channel(d, 0); }},
      {"poll", AIRLATCH_NO_EVENT,
       [](auto* d) {
         const void* event = nullptr;
         std::size_t size = 0;
         return airlatch_poll(d, &event, &size);
       }},
      {"finish", AIRLATCH_OK, [](auto* d) { return airlatch_finish(d); }},
      {"report", AIRLATCH_OK,
       [](auto* d) {
         const void* report = nullptr;
         std::size_t size = 0;
         return airlatch_report(d, &report, &size);
       }},
      {"dropped", AIRLATCH_OK,
       [](auto* d) {
         std::int64_t samples = 0;
         return airlatch_dropped(d, &samples);
       }},
      {"reset", AIRLATCH_OK, [](auto* d) { return airlatch_reset(d); }},
  };
}
bool needs_an_open_capture(const std::string& name) {
  return name == "push" || name == "flush" || name == "end_channel" || name == "finish";
}

TEST(Refusals, OfANullDecoder) {
  for (const CallCase& one : one_of_each()) {
    clear_thread_reason();
    EXPECT_EQ(one.call(nullptr), AIRLATCH_MISUSE) << one.name;
    expect_reason(airlatch_last_error(nullptr), one.name);
  }
  clear_thread_reason();
  EXPECT_EQ(airlatch_destroy(nullptr), AIRLATCH_OK);
  EXPECT_STREQ(airlatch_last_error(nullptr), "");
}

std::vector<CallCase> misuses() {
  using Block = airlatch_block;
  const auto push = [](const char* name, airlatch_status status,
                       std::function<void(Block&)> spoil) {
    return CallCase{name, status, [=](auto* d) { return push_one(d, spoil); }};
  };
  constexpr airlatch_status kBad = AIRLATCH_BAD_BLOCK;
  static const void* place = nullptr;
  static std::size_t size = 0;
  return {
      {"push: null", AIRLATCH_MISUSE, [](auto* d) { return airlatch_push(d, nullptr); }},
      push("push: struct_size 0", AIRLATCH_MISUSE, [](Block& b) { b.struct_size = 0; }),
      push("push: too small", AIRLATCH_MISUSE, [](Block& b) { b.struct_size = sizeof b - 1; }),
      push("push: no such channel", kBad, [](Block& b) { b.channel = 99; }),
      push("push: no values", kBad, [](Block& b) { b.floats = nullptr; }),
      push("push: both kinds of values", kBad, [](Block& b) { b.doubles = kDoubles; }),
      push("push: too many values", kBad, [](Block& b) { b.count = (1ULL << 31) + 1; }),
      push("push: most values", kBad, [](Block& b) { b.count = std::size_t(-1); }),
      push("push: period 0", kBad, [](Block& b) { b.period_num_ns = 0; }),
      push("push: period over 0", kBad, [](Block& b) { b.period_den = 0; }),
      push("push: period below 0", kBad, [](Block& b) { b.period_num_ns = -1; }),
      push("push: period over less than 0", kBad, [](Block& b) { b.period_den = -1; }),
      push("push: period above 1e15", kBad, [](Block& b) { b.period_num_ns = 1000000000000001; }),
      push("push: period over 1e15", kBad, [](Block& b) { b.period_den = 1000000000000001; }),
      push("push: below 1 ps", kBad, [](Block& b) { b.period_num_ns = 1, b.period_den = 2000; }),
      push("push: starts too late", kBad, [](Block& b) { b.start_ns = kTooFar_ns; }),
      push("push: starts too early", kBad, [](Block& b) { b.start_ns = -kTooFar_ns; }),
      push("push: ends too late", kBad,
           [](Block& b) {
             b.start_ns = kTooFar_ns - 1000, b.count = 1u << 31, b.period_num_ns = 1000000000000000;
           }),
      push("push: a time too late", kBad, [](Block& b) { b.times_ns = kTimes_ns; }),
      {"flush: too late", AIRLATCH_MISUSE, [](auto* d) { return airlatch_flush(d, kTooFar_ns); }},
      {"flush: too early", AIRLATCH_MISUSE, [](auto* d) { return airlatch_flush(d, -kTooFar_ns); }},
      {"end_channel: none", AIRLATCH_MISUSE, [](auto* d) { return airlatch_end_channel(d, 99); }},
      {"poll: no event", AIRLATCH_MISUSE, [](auto* d) { return airlatch_poll(d, nullptr, &size); }},
      {"poll: no size", AIRLATCH_MISUSE, [](auto* d) { return airlatch_poll(d, &place, nullptr); }},
      {"report: no report", AIRLATCH_MISUSE,
       [](auto* d) { return airlatch_report(d, nullptr, &size); }},
      {"report: no size", AIRLATCH_MISUSE,
       [](auto* d) { return airlatch_report(d, &place, nullptr); }},
      {"report: not finished", AIRLATCH_MISUSE,
       [](auto* d) { return airlatch_report(d, &place, &size); }},
      {"dropped: nowhere", AIRLATCH_MISUSE, [](auto* d) { return airlatch_dropped(d, nullptr); }},
  };
}

std::vector<std::string> expected() {
  std::vector<std::string> out;
  for (const Event& event : decode_rehearsal(sound())) out.push_back(to_wire(event));
  return out;
}

TEST(Refusals, OfMisuseAndNothingElseIsChanged) {
  Session session(sound());
  session.create();
  session.push(0, 1000);
  for (const CallCase& one : misuses()) {
    clear_thread_reason();
    std::int64_t dropped = 0;
    ASSERT_EQ(airlatch_dropped(session.decoder, &dropped), AIRLATCH_OK);
    ASSERT_STREQ(airlatch_last_error(session.decoder), "");
    EXPECT_EQ(one.call(session.decoder), one.status) << one.name;
    expect_reason(airlatch_last_error(session.decoder), one.name);
    EXPECT_STREQ(airlatch_last_error(nullptr), "") << one.name;  // the decoder's, not the thread's
  }
  session.push(1000);
  session.finish();
  EXPECT_EQ(session.events, expected());
}

TEST(Refusals, AfterFinish) {
  Session session(sound());
  session.create();
  session.push();
  session.finish();
  for (const CallCase& one : one_of_each()) {
    const bool open = needs_an_open_capture(one.name);
    EXPECT_EQ(one.call(session.decoder), open ? AIRLATCH_MISUSE : one.status) << one.name;
    if (open) expect_reason(airlatch_last_error(session.decoder), one.name);
  }
}

TEST(Refusals, FromInsideTheCallback) {
  struct Inside {
    airlatch_decoder* decoder = nullptr;
    std::vector<CallCase> calls = one_of_each();
    int times = 0;
  } inside;
  inside.calls.push_back({"destroy", AIRLATCH_MISUSE, [](auto* d) { return airlatch_destroy(d); }});
  Session session(sound());
  session.options.context = &inside;
  session.options.on_event = [](const void*, std::size_t, void* context) {
    auto& in = *static_cast<Inside*>(context);
    ++in.times;
    for (const CallCase& one : in.calls) {
      clear_thread_reason();
      EXPECT_EQ(one.call(in.decoder), AIRLATCH_MISUSE) << one.name;
      expect_reason(airlatch_last_error(nullptr), one.name);
      EXPECT_STREQ(airlatch_last_error(in.decoder), airlatch_last_error(nullptr)) << one.name;
    }
  };
  session.create();
  inside.decoder = session.decoder;
  session.push();
  session.finish();
  EXPECT_EQ(inside.times, std::ssize(expected()));
  EXPECT_STREQ(airlatch_last_error(session.decoder), "");  // the call itself succeeded
}

// A callback that throws all the same: the call failed half way, whatever was thrown.
TEST(Refusals, AfterACallbackThatThrows) {
  struct NotAnException {};
  static int what = 0;
  const auto throwing = [](const void*, std::size_t, void*) {
    if (what == 0) throw std::runtime_error("of\nthe host");
    if (what == 1) throw std::runtime_error("");
    if (what == 2) throw NotAnException();
    throw std::runtime_error(std::string(5000, '\x80'));
  };
  for (what = 0; what < 4; ++what) {
    Session session(sound());
    session.options.on_event = throwing;
    session.create();
    airlatch_status status = AIRLATCH_OK;
    for (std::uint32_t c = 0; c < session.options.channel_count; ++c) {
      const airlatch_block block = block_of(sound(), c);
      if (const airlatch_status one = airlatch_push(session.decoder, &block)) status = one;
    }
    EXPECT_EQ(status, AIRLATCH_BROKEN) << what;
    expect_reason(airlatch_last_error(session.decoder), "thrown " + std::to_string(what));
    for (const CallCase& one : one_of_each()) {
      const std::string name = one.name;
      if (name == "reset") continue;
      const bool allowed = name == "poll" || name == "dropped";
      EXPECT_EQ(one.call(session.decoder), allowed ? one.status : AIRLATCH_BROKEN) << name;
      if (!allowed) expect_reason(airlatch_last_error(session.decoder), name);
    }
    EXPECT_EQ(airlatch_reset(session.decoder), AIRLATCH_OK);
    EXPECT_EQ(airlatch_finish(session.decoder), AIRLATCH_OK);
  }
}

// The first allocation of each call that has one fails.
TEST(Refusals, WithoutMemory) {
  Session session(sound());
  fail_in = 0;
  const airlatch_status created = airlatch_create(&session.options, &session.decoder);
  fail_in = -1;
  EXPECT_EQ(created, AIRLATCH_NO_MEMORY);
  expect_reason(airlatch_last_error(nullptr), "create");
  session.create();
  const std::vector<CallCase> calls = one_of_each();
  int refused = 0;
  for (const CallCase& one : calls) {
    ASSERT_EQ(airlatch_reset(session.decoder), AIRLATCH_OK);
    session.push();
    if (std::string(one.name) == "report") session.finish();
    fail_in = 0;
    const airlatch_status status = one.call(session.decoder);
    fail_in = -1;
    if (status == AIRLATCH_OK || status == AIRLATCH_NO_EVENT) continue;  // it needed none
    ++refused;
    EXPECT_EQ(status, AIRLATCH_NO_MEMORY) << one.name;
    expect_reason(airlatch_last_error(session.decoder), one.name);
  }
  EXPECT_GE(refused, 3);
}

// What a thread was refused is no other thread's reason.
TEST(Refusals, ReasonsAreKeptPerThread) {
  clear_thread_reason();
  std::thread([] {
    EXPECT_EQ(airlatch_finish(nullptr), AIRLATCH_MISUSE);
    expect_reason(airlatch_last_error(nullptr), "the thread's own");
  }).join();
  EXPECT_STREQ(airlatch_last_error(nullptr), "");
}

}  // namespace
}  // namespace airlatch
