// SPDX-License-Identifier: GPL-3.0-or-later
// Events as JSON, by callback and by poll; and hosts whose structs are older or newer than ours.
#include <gtest/gtest.h>

#include <cstddef>
#include <cstdlib>
#include <cstring>
#include <memory>

#include "plugin/message/event_json.hpp"
#include "tests/plugin/abi/session.hpp"
#include "tests/support/score.hpp"

namespace airlatch {
namespace {
using namespace test;

const Rehearsal& leaking() {
  static const Rehearsal r =
      rehearse({.fault = "line-leak", .rate_hz = 1000, .seed = 83, .hold_s = 6});
  return r;
}

template <typename Write>
std::vector<std::string> each(Write&& write) {
  std::vector<std::string> out;
  for (const Event& event : decode_rehearsal(leaking())) out.push_back(write(event));
  EXPECT_GT(out.size(), 4U);
  return out;
}
std::vector<std::string> as_json() { return each(event_json); }
std::vector<std::string> as_bytes() { return each(to_wire<Event>); }

TEST(EventFormat, JsonByCallback) {
  Session session(leaking());
  session.options.event_format = AIRLATCH_EVENT_JSON;
  session.create();
  session.push();
  session.finish();
  EXPECT_EQ(session.events, as_json());
}

TEST(EventFormat, JsonByPoll) {
  Session session(leaking());
  session.options.event_format = AIRLATCH_EVENT_JSON;
  session.options.on_event = nullptr;
  session.create();
  session.push();
  session.finish();
  EXPECT_TRUE(session.events.empty());
  session.poll_all();
  EXPECT_EQ(session.events, as_json());
}

// It outlives a reset; a report is a message all the same.
TEST(EventFormat, ResetKeepsItAndReportsStayMessages) {
  Session session(leaking());
  session.options.event_format = AIRLATCH_EVENT_JSON;
  session.create();
  session.push();
  ASSERT_EQ(airlatch_reset(session.decoder), AIRLATCH_OK);
  session.events.clear();
  session.push();
  session.finish();
  EXPECT_EQ(session.events, as_json());
  const void* bytes = nullptr;
  std::size_t size = 0;
  ASSERT_EQ(airlatch_report(session.decoder, &bytes, &size), AIRLATCH_OK);
  Report report;
  ASSERT_TRUE(from_wire(std::string_view(static_cast<const char*>(bytes), size), report));
  EXPECT_EQ(report.events.size(), session.events.size());
}

// What stands in the host's memory behind its struct is not ours.
TEST(OldHosts, OptionsThatEndBeforeTheEventFormat) {
  Session session(leaking());
  session.options.event_format = AIRLATCH_EVENT_JSON;
  session.options.struct_size = offsetof(airlatch_options, event_format);
  session.create();
  session.push();
  session.finish();
  EXPECT_EQ(session.events, as_bytes());
}

TEST(OldHosts, OptionsThatEndBeforeTheCallback) {
  Session session(leaking());
  session.options.struct_size = offsetof(airlatch_options, on_event);
  session.create();
  session.push();
  session.finish();
  EXPECT_TRUE(session.events.empty());
  session.poll_all();
  EXPECT_EQ(session.events, as_bytes());
}

constexpr std::size_t kBlockOfVersion1 = 72;
static_assert(kBlockOfVersion1 == offsetof(airlatch_block, count) + sizeof(std::size_t),
              "version 1's members stay where they are");

// Memory that ends where version 1's block does: under a sanitizer, reading on would show.
TEST(OldHosts, BlocksOfVersion1) {
  Session session(leaking());
  session.create();
  const std::unique_ptr<void, decltype(&std::free)> exact(std::malloc(kBlockOfVersion1),
                                                          &std::free);
  for (std::uint32_t c = 0; c < session.options.channel_count; ++c) {
    airlatch_block block = block_of(leaking(), c);
    block.struct_size = kBlockOfVersion1;
    std::memcpy(exact.get(), &block, kBlockOfVersion1);
    ASSERT_EQ(airlatch_push(session.decoder, static_cast<airlatch_block*>(exact.get())),
              AIRLATCH_OK);
  }
  session.finish();
  EXPECT_EQ(session.events, as_bytes());
}

TEST(NewHosts, BlocksAndOptionsThatHaveGrown) {
  struct NewOptions {
    airlatch_options known;
    void* tomorrow[3];
  };
  struct NewBlock {
    airlatch_block known;
    double tomorrow[5];
  };
  Session session(leaking());
  NewOptions options = {session.options, {&session, &session, &session}};
  options.known.struct_size = sizeof options;
  ASSERT_EQ(airlatch_create(&options.known, &session.decoder), AIRLATCH_OK);
  for (std::uint32_t c = 0; c < session.options.channel_count; ++c) {
    NewBlock block = {block_of(leaking(), c), {1, 2, 3, 4, 5}};
    block.known.struct_size = sizeof block;
    ASSERT_EQ(airlatch_push(session.decoder, &block.known), AIRLATCH_OK);
  }
  session.finish();
  EXPECT_EQ(session.events, as_bytes());
}

// Of an info of any size, whole members are filled in, and nothing behind it is touched.
TEST(OldHosts, InfoOfAnySize) {
  airlatch_info whole = {};
  whole.struct_size = sizeof whole;
  ASSERT_EQ(airlatch_get_info(&whole), AIRLATCH_OK);
  EXPECT_EQ(whole.abi, AIRLATCH_ABI + 0U);
  EXPECT_EQ(whole.capabilities, AIRLATCH_CAN_CALL_BACK | AIRLATCH_CAN_REPORT | AIRLATCH_CAN_JSON);
  EXPECT_GE(std::strlen(whole.version), 5U);
  struct {
    airlatch_info known;
    char tomorrow[16];
  } host;
  constexpr std::size_t kEnds[] = {offsetof(airlatch_info, capabilities),
                                   offsetof(airlatch_info, version), sizeof(airlatch_info)};
  for (std::size_t size = kEnds[0]; size <= sizeof host; ++size) {
    std::memset(&host, 0x5a, sizeof host);
    auto wanted = host;
    const std::size_t filled = *std::find_if(std::rbegin(kEnds), std::rend(kEnds),
                                             [&](std::size_t end) { return end <= size; });
    std::memcpy(&wanted.known, &whole, filled);
    host.known.struct_size = wanted.known.struct_size = size;
    ASSERT_EQ(airlatch_get_info(&host.known), AIRLATCH_OK) << size;
    EXPECT_EQ(std::memcmp(&host, &wanted, sizeof host), 0) << size;
  }
}

}  // namespace
}  // namespace airlatch
