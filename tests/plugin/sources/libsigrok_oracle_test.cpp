// SPDX-License-Identifier: GPL-3.0-or-later
// libsigrok's own C API as the outside check: sound session files give the same floats to the bit,
// and its demo driver's live blocks go through the decoders.
#include <gtest/gtest.h>
#include <libsigrok/libsigrok.h>

#include <chrono>
#include <cstring>
#include <map>
#include <thread>

#ifdef __SANITIZE_ADDRESS__
#include <sanitizer/lsan_interface.h>
#endif

#include "decoders/chain.hpp"
#include "plugin/rehearse/rehearsal.hpp"
#include "plugin/rehearse/write.hpp"
#include "tests/support/decode.hpp"
#include "tests/support/files.hpp"

namespace airlatch {
namespace {
using namespace test;

// libsigrok forgets a few hundred bytes with every session it loads; that is not ours to fix.
struct ForgetLeaks {
  ForgetLeaks() { leaks(false); }
  ~ForgetLeaks() { leaks(true); }
  static void leaks(bool watched) {
#ifdef __SANITIZE_ADDRESS__
    watched ? __lsan_enable() : __lsan_disable();
#else
    static_cast<void>(watched);
#endif
  }
};

struct Received {
  std::map<std::string, std::vector<float>> values;
  std::int64_t limit = 0;  // samples a channel after which the session is stopped
  sr_session* session = nullptr;
  bool ended = false;
};

void on_packet(const sr_dev_inst* /*device*/, const sr_datafeed_packet* packet, void* data) {
  auto& received = *static_cast<Received*>(data);
  if (packet->type == SR_DF_END) received.ended = true;
  if (packet->type != SR_DF_ANALOG || received.ended) return;
  const auto& analog = *static_cast<const sr_datafeed_analog*>(packet->payload);
  ASSERT_EQ(g_slist_length(analog.meaning->channels), 1U);
  const auto* channel = static_cast<const sr_channel*>(analog.meaning->channels->data);
  auto& values = received.values[channel->name];
  const std::size_t from = values.size();
  values.resize(from + analog.num_samples);
  if (analog.num_samples > 0) {
    ASSERT_EQ(sr_analog_to_float(&analog, values.data() + from), SR_OK);
  }
  if (received.limit > 0 && std::ssize(values) >= received.limit) sr_session_stop(received.session);
}

TEST(LibsigrokOracle, SoundFilesAgreeToTheBit) {
  Folder folder;
  for (const char* fault : {"sound", "line-leak", "gap"}) {
    const std::string path = folder.at("x.sr");
    write_session(path, rehearse({.fault = fault, .rate_hz = 10000, .seed = 11, .hold_s = 5}));
    sr_context* context = nullptr;
    sr_session* session = nullptr;
    const ForgetLeaks forget;
    ASSERT_EQ(sr_init(&context), SR_OK);
    ASSERT_EQ(sr_session_load(context, path.c_str(), &session), SR_OK);
    Received received;
    received.session = session;
    sr_session_datafeed_callback_add(session, on_packet, &received);
    ASSERT_EQ(sr_session_start(session), SR_OK);
    ASSERT_EQ(sr_session_run(session), SR_OK);
    sr_session_destroy(session);
    sr_exit(context);

    const Content ours = read_all(path);
    ASSERT_EQ(ours.channels.size(), received.values.size());
    for (std::size_t c = 0; c < ours.channels.size(); ++c) {
      const auto& theirs = received.values.at(ours.channels[c].name);
      ASSERT_EQ(ours.values[c].size(), theirs.size());
      EXPECT_EQ(std::memcmp(ours.values[c].data(), theirs.data(), theirs.size() * sizeof(float)), 0)
          << ours.channels[c].name;  // NaN of a gap included
    }
  }
}

// The demo driver makes analog signals of its own; here it matters that its live packets fit the
// sample block and the decoders, from the first to the last.
TEST(LibsigrokOracle, DemoDriverFeedsTheDecoders) {
  const ForgetLeaks forget;
  sr_context* context = nullptr;
  ASSERT_EQ(sr_init(&context), SR_OK);
  sr_dev_driver* demo = nullptr;
  for (sr_dev_driver** driver = sr_driver_list(context); *driver; ++driver)
    if (std::strcmp((*driver)->name, "demo") == 0) demo = *driver;
  ASSERT_NE(demo, nullptr);
  ASSERT_EQ(sr_driver_init(context, demo), SR_OK);
  GSList* found = sr_driver_scan(demo, nullptr);
  ASSERT_NE(found, nullptr);
  auto* device = static_cast<sr_dev_inst*>(found->data);
  g_slist_free(found);
  ASSERT_EQ(sr_dev_open(device), SR_OK);
  for (GSList* l = sr_dev_inst_channels_get(device); l; l = l->next) {
    auto* channel = static_cast<sr_channel*>(l->data);
    sr_dev_channel_enable(channel, std::strcmp(channel->name, "A0") == 0);  // a square wave
  }
  sr_config_set(device, nullptr, SR_CONF_SAMPLERATE, g_variant_new_uint64(10000));
  sr_config_set(device, nullptr, SR_CONF_LIMIT_SAMPLES, g_variant_new_uint64(5000));
  sr_session* session = nullptr;
  ASSERT_EQ(sr_session_new(context, &session), SR_OK);
  ASSERT_EQ(sr_session_dev_add(session, device), SR_OK);
  Received received;
  received.session = session;
  sr_session_datafeed_callback_add(session, on_packet, &received);
  ASSERT_EQ(sr_session_start(session), SR_OK);
  ASSERT_EQ(sr_session_run(session), SR_OK);
  sr_session_destroy(session);
  sr_dev_close(device);
  sr_exit(context);

  const std::vector<float>& square = received.values.at("A0");
  ASSERT_EQ(square.size(), 5000U);
  // Neither a feed nor a run: what it does is go beyond this range.
  ChainChannel channel = channel_of(Role::FEED_A_VOLTAGE, SampleClock::of_rate(10000));
  channel.rig.range_min = -5;
  channel.rig.range_max = 5;
  const auto events = [&](std::size_t cut) {
    Chain chain({channel}, {});
    std::vector<Event> out;
    chain.on_event.connect([&](const Event& event) { out.push_back(event); });
    for (std::size_t k = 0; k < square.size(); k += cut)
      chain.push({.channel = 0,
                  .clock = channel.clock,
                  .first = static_cast<std::int64_t>(k),
                  .values = std::span(square).subspan(k, std::min(cut, square.size() - k))});
    chain.finish();
    return bytes(out);
  };
  EXPECT_NE(events(5000), "");  // a wave of 10 V switches a feed on and off
  EXPECT_EQ(events(5000), events(13));
}

}  // namespace
}  // namespace airlatch
