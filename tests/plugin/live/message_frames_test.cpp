// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/live/message_frames.hpp"

#include <gtest/gtest.h>

namespace airlatch {
namespace {

v1::InstrumentMessage message_of(const std::string& channel, int values) {
  v1::InstrumentMessage message;
  message.mutable_block()->set_channel(channel);
  for (int k = 0; k < values; ++k) message.mutable_block()->add_values(static_cast<float>(k));
  return message;
}

std::string three_messages() {
  std::string bytes;
  append_frame(message_of("motor_a", 1000), bytes);  // a length of more than one byte
  append_frame(v1::InstrumentMessage(), bytes);      // no content at all
  append_frame(message_of("line_kpa", 3), bytes);
  return bytes;
}

TEST(MessageFrames, WhatWasWrittenIsReadHoweverItIsCut) {
  const std::string bytes = three_messages();
  for (const std::size_t cut : {std::size_t{1}, std::size_t{3}, std::size_t{1000}, bytes.size()}) {
    FrameReader reader;
    std::vector<v1::InstrumentMessage> messages;
    for (std::size_t at = 0; at < bytes.size(); at += cut) {
      reader.append(std::string_view(bytes).substr(at, cut));
      reader.take(messages);
    }
    ASSERT_EQ(messages.size(), 3U) << cut;
    EXPECT_EQ(messages[0].block().channel(), "motor_a");
    EXPECT_EQ(messages[0].block().values_size(), 1000);
    EXPECT_EQ(messages[2].block().channel(), "line_kpa");
  }
}

TEST(MessageFrames, AMessageThatIsNotWholeWaits) {
  const std::string bytes = three_messages();
  FrameReader reader;
  std::vector<v1::InstrumentMessage> messages;
  reader.append(std::string_view(bytes).substr(0, bytes.size() - 1));
  reader.take(messages);
  EXPECT_EQ(messages.size(), 2U);
  reader.append(std::string_view(bytes).substr(bytes.size() - 1));
  reader.take(messages);
  EXPECT_EQ(messages.size(), 3U);
}

}  // namespace
}  // namespace airlatch
