// SPDX-License-Identifier: GPL-3.0-or-later
// A capture without a terminal: a made-up pump that is fed, on a fuse that is too small for it.
#include "plugin/live/live_capture.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <set>

#include "plugin/job/decode_capture.hpp"
#include "plugin/message/event_json.hpp"
#include "tests/plugin/live/fake_instrument.hpp"
#include "tests/support/files.hpp"

namespace airlatch {
namespace {
using namespace test;

constexpr std::int64_t kRate_hz = 1000, kPacket = 20, kFeed = 300, kSamples = 1200;

float value_of(const std::string& channel, std::int64_t n) {
  if (n < kFeed) return 0;
  return channel == "motor_a" ? 30 : 12;
}

// Both channels in real time; the feed comes on after kFeed samples.
void pump(const InstrumentSpec& spec, int fd) {
  SendQueue queue(fd);
  send(queue, hello_of(spec.names, kRate_hz));
  const SampleClock clock = SampleClock::of_rate(kRate_hz, 1, host_now_ns());
  for (std::int64_t n = 0; n < kSamples; n += kPacket) {
    ::usleep(1'000'000 * kPacket / kRate_hz);
    for (const std::string& name : spec.names) {
      v1::InstrumentMessage message;
      auto& block = *message.mutable_block();
      block.set_channel(name);
      block.mutable_clock()->set_start_ns(clock.start_ns);
      block.mutable_clock()->set_period_num_ns(clock.num_ns);
      block.mutable_clock()->set_period_den(clock.den);
      block.set_first_index(n);
      for (std::int64_t k = n; k < n + kPacket; ++k) block.add_values(value_of(name, k));
      send(queue, message);
    }
  }
  while (true) ::pause();
}

// What a listener was handed.
struct Noted {
  std::vector<std::string> events, remarks;
  int rounds = 0;
  LiveListener listener() {
    return {[this](const Event& event) { events.push_back(event_json(event)); },
            [this](const std::string& text) { remarks.push_back(text); }, [this] { ++rounds; }};
  }
  [[nodiscard]] bool remarked(const std::string& part) const {
    return std::any_of(remarks.begin(), remarks.end(), [&](const std::string& text) {
      return text.find(part) != std::string::npos;
    });
  }
};

LiveSettings settings_of(const std::string& record) {
  LiveSettings settings;
  settings.instruments = {parse_instrument("fake:as=feed_a_v,motor_a")};
  if (!record.empty()) settings.record = record;
  settings.child = pump;
  settings.fuse_a = 15;
  return settings;
}

TEST(LiveCapture, RecordsRawAndDecodesWhatAReplayDecodes) {
  const Folder folder;
  Noted noted;
  LiveCapture live(settings_of(folder.at("a.mcap")), noted.listener());
  live.run([&] { return live.newest_s() > 1; });
  EXPECT_TRUE(live.recording());
  EXPECT_TRUE(live.close_recording());
  EXPECT_TRUE(live.recording_failure().empty());
  EXPECT_GT(noted.rounds, 2);
  EXPECT_TRUE(noted.remarked("recording to " + folder.at("a.mcap")));

  const Content content = read_all(folder.at("a.mcap"));
  ASSERT_EQ(content.channels.size(), 2U);
  for (std::size_t c = 0; c < 2; ++c) {
    ASSERT_GT(content.values[c].size(), 900U);
    for (std::size_t n = 0; n < content.values[c].size(); ++n)
      ASSERT_EQ(content.values[c][n],
                value_of(content.channels[c].name, static_cast<std::int64_t>(n)));
  }
  std::vector<std::string> again;
  decode_capture(folder.at("a.mcap"), {}, {}, {},
                 [&](const Event& event) { again.push_back(event_json(event)); });
  EXPECT_FALSE(again.empty());
  EXPECT_EQ(noted.events, again);
  EXPECT_EQ(live.events().size(), again.size());
}

TEST(LiveCapture, TheFuseIsWatchedAndFiguresAreTheLatest) {
  Noted noted;
  LiveSettings settings = settings_of("");
  settings.seconds = 1;
  LiveCapture live(settings, noted.listener());
  live.run([] { return false; });
  EXPECT_FALSE(live.close_recording());  // there is none
  EXPECT_TRUE(noted.remarked("TAKE THE FEED OFF NOW: 30.0 A on a fuse of 15 A"));
  EXPECT_DOUBLE_EQ(live.figures().at(Role::MOTOR_CURRENT), 30);
  EXPECT_DOUBLE_EQ(live.figures().at(Role::FEED_A_VOLTAGE), 12);
}

// A decoder that is slower than the samples does not hold up the recording, and it is told.
TEST(LiveCapture, WhatComesIsRecordedThoughDecodingFallsBehind) {
  const Folder folder;
  Noted noted;
  LiveListener listener = noted.listener();
  double most_ahead_s = 0;
  LiveCapture* capture = nullptr;
  listener.on_event = [&](const Event& event) {
    most_ahead_s = std::max(most_ahead_s, capture->newest_s() - event.time_s);
    ::usleep(700'000);
  };
  LiveCapture live(settings_of(folder.at("a.mcap")), listener);
  capture = &live;
  live.run([&] { return live.newest_s() > 1; });
  EXPECT_TRUE(live.close_recording());
  EXPECT_GT(live.events().size(), 1U);
  EXPECT_GT(most_ahead_s, LiveCapture::kLate_s);
  EXPECT_TRUE(noted.remarked("THIS COMPUTER IS TOO SLOW: warnings come"));
}

TEST(LiveCapture, ARecordingIsNeverWrittenOverAnother) {
  const Folder folder;
  folder.write("a.mcap", "mine");
  Noted noted;
  LiveCapture live(settings_of(folder.at("a.mcap")), noted.listener());
  EXPECT_THROW(live.run([] { return false; }), InputError);
  EXPECT_EQ(read_file(folder.at("a.mcap")), "mine");
}

}  // namespace
}  // namespace airlatch
