// SPDX-License-Identifier: GPL-3.0-or-later
// Packets as libsigrok hands them out, made by hand.
#include "plugin/live/packet_reader.hpp"

#include <gtest/gtest.h>
#include <libsigrok/libsigrok.h>

#include <array>
#include <cmath>
#include <cstring>

namespace airlatch {
namespace {

constexpr std::int64_t kArrival_ns = 7'000'000'000;

// A value of the given bytes, the least first unless `e` says otherwise.
sr_analog_encoding integers(std::uint8_t bytes, bool is_signed) {
  sr_analog_encoding e{};
  e.unitsize = bytes;
  e.is_signed = is_signed;
  e.scale = {1, 1};
  e.offset = {0, 1};
  return e;
}

struct Reading {
  std::string channel;
  std::int64_t time_ns;
  float value;
};

// A device of one channel of each type, and what came of its packets.
class Device {
 public:
  explicit Device(std::uint64_t rate_hz)
      : reader_(
            rate_hz, [this](v1::InstrumentMessage& message) { messages.push_back(message); },
            [this] { return now_ns; }) {
    analog_.type = SR_CHANNEL_ANALOG;
    logic_.type = SR_CHANNEL_LOGIC;
    logic_.index = 9;
    reader_.add_channel(&analog_, "analog");
    reader_.add_channel(&logic_, "logic");
  }

  void send(std::vector<float> values, sr_unit unit = SR_UNIT_VOLT) {
    GSList channels{&analog_, nullptr};
    sr_analog_meaning meaning{};
    meaning.unit = static_cast<decltype(meaning.unit)>(unit);
    meaning.channels = &channels;
    sr_analog_encoding encoding = integers(4, true);
    encoding.is_float = true;
    sr_datafeed_analog packet{};
    packet.data = values.data();
    packet.num_samples = static_cast<std::uint32_t>(values.size());
    packet.encoding = &encoding;
    packet.meaning = &meaning;
    reader_.read(packet);
  }

  void send_logic(std::vector<std::uint16_t> words) {
    sr_datafeed_logic packet{};
    packet.unitsize = 2;
    packet.length = 2 * words.size();
    packet.data = words.data();
    reader_.read(packet);
  }

  [[nodiscard]] std::vector<Reading> readings() const {
    std::vector<Reading> out;
    for (const v1::InstrumentMessage& message : messages)
      for (int k = 0; k < message.block().values_size(); ++k)
        out.push_back(
            {message.block().channel(), message.block().times_ns(k), message.block().values(k)});
    return out;
  }

  std::int64_t now_ns = kArrival_ns;
  std::vector<v1::InstrumentMessage> messages;

 private:
  sr_channel analog_{}, logic_{};
  PacketReader reader_;
};

TEST(AnalogValue, WholeNumbersOfAnySizeAndOrder) {
  const std::array<unsigned char, 6> bytes = {0xfe, 0xff, 0xff, 0x02, 0x01, 0x00};
  EXPECT_EQ(analog_value(integers(1, false), bytes.data(), 0), 254);
  EXPECT_EQ(analog_value(integers(1, true), bytes.data(), 0), -2);
  EXPECT_EQ(analog_value(integers(3, true), bytes.data(), 0), -2);
  EXPECT_EQ(analog_value(integers(3, true), bytes.data(), 1), 0x000102);
  sr_analog_encoding big = integers(2, true);
  big.is_bigendian = true;
  EXPECT_EQ(analog_value(big, bytes.data(), 0), static_cast<std::int16_t>(0xfeff));
  sr_analog_encoding scaled = integers(1, false);
  scaled.scale = {1, 4};
  scaled.offset = {-5, 2};
  EXPECT_EQ(analog_value(scaled, bytes.data(), 0), 254 / 4.0 - 2.5);
}

TEST(AnalogValue, FloatsOfBothSizes) {
  const std::array<double, 2> doubles = {1.5, -2.25};
  sr_analog_encoding e = integers(8, true);
  e.is_float = true;
  EXPECT_EQ(analog_value(e, doubles.data(), 1), -2.25);
  const std::array<float, 2> floats = {1.5F, -2.25F};
  e.unitsize = 4;
  EXPECT_EQ(analog_value(e, floats.data(), 1), -2.25);
}

TEST(AnalogValue, WhatNobodyCanReadIsMissing) {
  const std::array<unsigned char, 16> bytes = {};
  sr_analog_encoding e = integers(2, true);
  e.is_float = true;
  EXPECT_TRUE(std::isnan(analog_value(e, bytes.data(), 0)));
  EXPECT_TRUE(std::isnan(analog_value(integers(0, true), bytes.data(), 0)));
  EXPECT_TRUE(std::isnan(analog_value(integers(9, true), bytes.data(), 0)));
}

TEST(PacketReader, AMetersReadingsAreTimedByTheirArrival) {
  Device device(0);
  device.send({1, 2});
  device.now_ns += 500;
  device.send({1013.25F}, SR_UNIT_HECTOPASCAL);  // in kPa
  const auto readings = device.readings();
  ASSERT_EQ(readings.size(), 3U);
  EXPECT_EQ(readings[0].time_ns, kArrival_ns);
  EXPECT_EQ(readings[1].time_ns, kArrival_ns + 1);  // rising, as times must
  EXPECT_EQ(readings[2].time_ns, kArrival_ns + 500);
  EXPECT_FLOAT_EQ(readings[2].value, 101.325F);
}

TEST(PacketReader, AZeroOfAMeterWaitsForItsSuccessor) {
  Device device(0);
  device.send({3});
  device.now_ns += 100;
  device.send({0});
  EXPECT_EQ(device.readings().size(), 1U);
  device.now_ns += 100;
  device.send({4});
  const auto readings = device.readings();
  ASSERT_EQ(readings.size(), 3U);
  EXPECT_EQ(readings[1].value, 0);
  EXPECT_EQ(readings[1].time_ns, kArrival_ns + 100);  // its own
  EXPECT_EQ(readings[2].time_ns, kArrival_ns + 200);
}

TEST(PacketReader, SampledChannelsLieOnOneClock) {
  Device device(1000);
  device.send(std::vector<float>(50, 0));
  device.now_ns += 53'000'000;  // late by 3 ms: the clock does not follow a single packet
  device.send(std::vector<float>(50, 1));
  ASSERT_EQ(device.messages.size(), 2U);
  const v1::SampleBlock& second = device.messages[1].block();
  EXPECT_EQ(device.messages[0].block().first_index(), 0);
  EXPECT_EQ(second.first_index(), 50);
  EXPECT_EQ(second.values_size(), 50);
  EXPECT_EQ(second.clock().start_ns(), kArrival_ns - 50'000'000);
  EXPECT_EQ(second.clock().period_num_ns() / second.clock().period_den(), 1'000'000);
}

TEST(PacketReader, LogicChannelsAreTheirBits) {
  Device device(1000);
  device.send_logic({0x0200, 0xfdff, 0xffff});  // bit 9
  ASSERT_EQ(device.messages.size(), 1U);
  const v1::SampleBlock& block = device.messages[0].block();
  EXPECT_EQ(block.channel(), "logic");
  EXPECT_EQ(std::vector<float>(block.values().begin(), block.values().end()),
            (std::vector<float>{1, 0, 1}));
}

}  // namespace
}  // namespace airlatch
