// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/message/wire.hpp"

#include <google/protobuf/stubs/logging.h>
#include <gtest/gtest.h>

#include "plugin/message/protobuf.hpp"
#include "tests/plugin/message/random_message.hpp"

namespace airlatch {
namespace {
using namespace test;

template <typename Message>
class Wire : public testing::Test {
 protected:
  using V1 = typename V1Of<Message>::Type;
  google::protobuf::LogSilencer silence;  // libprotobuf complains of strings that are not UTF-8
};
using Messages = testing::Types<Event, Rig, Plan, Job, Report>;
TYPED_TEST_SUITE(Wire, Messages);

TYPED_TEST(Wire, TheBytesOfLibprotobuf) {
  RandomMessage random(1);
  for (int k = 0; k < 1000; ++k) {
    const auto message = random.template message<TypeParam>();
    const std::string bytes = mirror(message).SerializeAsString();
    ASSERT_EQ(to_wire(message), bytes);
    TypeParam back;
    ASSERT_TRUE(from_wire(bytes, back));
    ASSERT_EQ(to_wire(back), bytes);
  }
  EXPECT_EQ(to_wire(TypeParam{}), mirror(TypeParam{}).SerializeAsString());
}

// What libprotobuf makes of any bytes, unknown fields left out; nothing where it refuses them.
template <typename V1>
std::optional<std::string> oracle(const std::string& bytes) {
  V1 message;
  if (!message.ParseFromString(bytes)) return std::nullopt;
  message.DiscardUnknownFields();
  complete(message);
  return message.SerializeAsString();
}

// Bytes that are changed, cut, joined (so that messages are merged) and given strange fields.
std::string changed(std::string bytes, const std::string& other, RandomMessage& random) {
  const std::string kStrange[] = {std::string("\x03\x04", 2),
                                  "\x0b\x0c",
                                  "\x0b\x0b\x0c\x0c",
                                  "\x0b\x13\x0c\x14",
                                  "\x0c",
                                  std::string("\0", 1),
                                  "\x08\x96\x01",
                                  "\x88\x80\x80\x80\x00\x01",
                                  "\xba\x1f\x01",
                                  "\x0d"
                                  "abcd",
                                  "\x09"
                                  "abcdefgh",
                                  "\xc2\xa3\x09\x01"
                                  "a",
                                  "\x0a\x81\x80\x80\x80\x80\x01"
                                  "a",
                                  "\x0a\x81\x80\x80\x80\x00"
                                  "a",
                                  "\x28\xff\xff\xff\xff\xff\xff\xff\xff\xff\x01",
                                  "\x28\x80\x00",
                                  "\x28\x80\x80\x80\x80\x80\x80\x80\x80\x80\x02",
                                  "\x28\x80\x80\x80\x80\x80\x80\x80\x80\x80\x80\x01",
                                  "\x0e",
                                  "\x0f",
                                  "\x07",
                                  "\x0a\x02\xc3\x28"};
  for (std::size_t count = random.below(4); count > 0; --count) {
    const std::size_t at = random.below(bytes.size() + 1);
    switch (random.below(7)) {
      case 0:
        bytes.resize(at);
        break;
      case 1:
        bytes += other;
        break;
      case 2:
        bytes.insert(random.one_in(2) ? 0 : bytes.size(),
                     kStrange[random.below(std::size(kStrange))]);
        break;
      case 3:
        bytes.insert(at, kStrange[random.below(std::size(kStrange))]);
        break;
      case 4:
        bytes.insert(at, 1, static_cast<char>(random.below(256)));
        break;
      default:
        if (at < bytes.size())
          bytes[at] = static_cast<char>(random.one_in(2) ? random.below(256) : random.below(20));
    }
  }
  return bytes;
}

TYPED_TEST(Wire, ReadsAndRefusesWhatLibprotobufDoes) {
  RandomMessage random(2);
  int taken = 0, refused = 0;
  for (int k = 0; k < 8000; ++k) {
    const std::string other = to_wire(random.template message<TypeParam>());
    const std::string bytes = changed(to_wire(random.template message<TypeParam>()), other, random);
    const auto expected = oracle<typename TestFixture::V1>(bytes);
    TypeParam message;
    const bool read = from_wire(bytes, message);
    ASSERT_EQ(read, expected.has_value()) << testing::PrintToString(bytes);
    ++(read ? taken : refused);
    if (read) {
      ASSERT_EQ(to_wire(message), *expected) << testing::PrintToString(bytes);
    }
  }
  EXPECT_GT(taken, 2000);
  EXPECT_GT(refused, 1000);
}

// Groups that are not known, nested as deep as libprotobuf goes and one deeper.
TYPED_TEST(Wire, DeepGroups) {
  for (int deep = 95; deep < 106; ++deep) {
    std::string bytes;
    for (int k = 0; k < deep; ++k) bytes += "\xa3\x06";  // field 100
    for (int k = 0; k < deep; ++k) bytes += "\xa4\x06";
    TypeParam message;
    EXPECT_EQ(from_wire(bytes, message), oracle<typename TestFixture::V1>(bytes).has_value())
        << deep;
  }
}

TYPED_TEST(Wire, RefusedBytesChangeNothing) {
  RandomMessage random(3);
  auto message = random.template message<TypeParam>();
  const std::string before = to_wire(message);
  EXPECT_FALSE(
      from_wire("\x0a\x05"
                "abc",
                message));
  EXPECT_EQ(to_wire(message), before);
}

// A varint in more bytes than it needs; a number that a narrower type cuts.
TEST(WireValues, OddVarints) {
  for (const char* value :
       {"8000", "8001", "8002", "80808080808080808001", "8080808010", "ffffffff7f"}) {
    std::string varint;
    for (const char* at = value; *at; at += 2)
      varint += static_cast<char>(std::stoi(std::string(at, 2), nullptr, 16));
    const std::string channel = "\x10" + varint + "\x28" + varint;  // role, invert
    const std::string bytes =
        "\x30" + varint + "\x12" + static_cast<char>(channel.size()) + channel;
    Rig rig;
    ASSERT_TRUE(from_wire(bytes, rig));
    EXPECT_EQ(to_wire(rig), oracle<v1::Rig>(bytes)) << value;
  }
}

TEST(WireStrings, ThatAreNotUtf8AreRepaired) {
  const Rig rig{.name = "Gr\xfcn"};
  EXPECT_EQ(to_message<v1::Rig>(rig).name(), "Gr\uFFFDn");
  v1::Rig broken;
  broken.set_name(rig.name);
  google::protobuf::LogSilencer silence;
  EXPECT_THROW((void)from_message<Rig>(broken), std::invalid_argument);
}

TEST(WireDoor, ToLibprotobufAndBack) {
  RandomMessage random(4);
  const auto report = random.message<Report>();
  EXPECT_EQ(to_wire(from_message<Report>(to_message<v1::Report>(report))), to_wire(report));
}

}  // namespace
}  // namespace airlatch
