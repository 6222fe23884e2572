// SPDX-License-Identifier: GPL-3.0-or-later
// session.hpp: a host's use of one decoder, through the linked library or a copy loaded at run time.
//
// In    a rehearsal. Set `options` as the test needs them, then create().
// Out   what was handed out, an entry an event.
#pragma once
#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <vector>

#include "plugin/airlatch.h"
#include "plugin/message/wire.hpp"
#include "plugin/rehearse/rehearsal.hpp"

namespace airlatch::test {

// The functions of one copy of the library; as it stands, of the linked one.
struct Functions {
  decltype(&airlatch_create) create = airlatch_create;
  decltype(&airlatch_push) push = airlatch_push;
  decltype(&airlatch_poll) poll = airlatch_poll;
  decltype(&airlatch_finish) finish = airlatch_finish;
  decltype(&airlatch_destroy) destroy = airlatch_destroy;
  decltype(&airlatch_last_error) last_error = airlatch_last_error;
};

// All or part of a channel, as a block of version 1.
inline airlatch_block block_of(const Rehearsal& r, std::uint32_t channel, std::size_t at = 0,
                               std::size_t count = std::size_t(-1)) {
  airlatch_block block = {};
  block.struct_size = sizeof block;
  block.channel = channel;
  block.start_ns = r.clock.time_ns(static_cast<std::int64_t>(at));
  block.period_num_ns = r.clock.num_ns;
  block.period_den = r.clock.den;
  block.floats = r.channels[channel].values.data() + at;
  block.count = std::min(count, r.channels[channel].values.size() - at);
  return block;
}

class Session {
 public:
  explicit Session(const Rehearsal& r, const Functions& functions = {})
      : call(functions), r_(r), rig_(to_wire(r.rig)) {
    for (const auto& channel : r.channels) channels_.push_back({channel.name.c_str(), 0});
    options.rig = rig_.data();
    options.rig_size = rig_.size();
    options.format = AIRLATCH_BINARY;
    options.channels = channels_.data();
    options.channel_count = channels_.size();
    options.on_event = keep;
    options.context = this;
  }
  ~Session() { EXPECT_EQ(call.destroy(decoder), AIRLATCH_OK); }
  Session(const Session&) = delete;
  Session& operator=(const Session&) = delete;

  void create() {
    ASSERT_EQ(call.create(&options, &decoder), AIRLATCH_OK) << call.last_error(nullptr);
  }
  void push(std::size_t at = 0, std::size_t count = std::size_t(-1)) {
    for (std::uint32_t c = 0; c < channels_.size(); ++c) {
      const airlatch_block block = block_of(r_, c, at, count);
      ASSERT_EQ(call.push(decoder, &block), AIRLATCH_OK) << call.last_error(decoder);
    }
  }
  void finish() { ASSERT_EQ(call.finish(decoder), AIRLATCH_OK) << call.last_error(decoder); }
  void poll_all() {
    const void* event = nullptr;
    std::size_t size = 0;
    while (call.poll(decoder, &event, &size) == AIRLATCH_OK) keep(event, size, this);
  }
  static void keep(const void* event, std::size_t size, void* context) {
    static_cast<Session*>(context)->events.emplace_back(static_cast<const char*>(event), size);
  }

  const Functions call;
  airlatch_options options = AIRLATCH_OPTIONS_INIT;
  airlatch_decoder* decoder = nullptr;
  std::vector<std::string> events;

 private:
  const Rehearsal& r_;
  const std::string rig_;
  std::vector<airlatch_channel> channels_;
};

}  // namespace airlatch::test
