// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/system/utf8.hpp"

#include <google/protobuf/stubs/logging.h>
#include <gtest/gtest.h>

#include "airlatch/v1/setup.pb.h"

namespace airlatch {
namespace {

// Every sequence of up to three bytes that matter, and its continuation: libprotobuf reads a message
// with that string or refuses it.
TEST(Utf8, AsLibprotobufTakesIt) {
  const unsigned char kMatter[] = {0x00, 0x41, 0x7f, 0x80, 0x8f, 0x90, 0x9f, 0xa0, 0xbf,
                                   0xc0, 0xc1, 0xc2, 0xdf, 0xe0, 0xe1, 0xec, 0xed, 0xee,
                                   0xef, 0xf0, 0xf1, 0xf3, 0xf4, 0xf5, 0xff};
  google::protobuf::LogSilencer silence;
  int good = 0;
  const auto expect = [&](std::initializer_list<unsigned char> bytes) {
    const std::string text(bytes.begin(), bytes.end());
    std::string wire = {'\x0a', static_cast<char>(text.size())};
    wire += text;
    v1::Rig rig;
    const bool taken = rig.ParseFromString(wire);
    good += taken;
    ASSERT_EQ(is_utf8(text), taken) << testing::PrintToString(text);
    ASSERT_TRUE(is_utf8(repaired_utf8(text)));
    if (taken) {
      ASSERT_EQ(repaired_utf8(text), text);
    }
  };
  for (const unsigned char a : kMatter) {
    expect({a});
    for (const unsigned char b : kMatter) {
      expect({a, b});
      for (const unsigned char c : kMatter) {
        expect({a, b, c});
        for (const unsigned char d : kMatter) expect({a, b, c, d});
      }
    }
  }
  EXPECT_GT(good, 100);
}

TEST(Utf8, RepairsPieceByPiece) {
  EXPECT_EQ(repaired_utf8("a\xff\xfe"
                          "b"),
            "a\uFFFD\uFFFDb");
  EXPECT_EQ(repaired_utf8("\xe2\x82"), "\uFFFD");               // a cut euro sign is one piece
  EXPECT_EQ(repaired_utf8("\xe2\x82\xe2\x82\xac"), "\uFFFD€");  // and what follows it is kept
  EXPECT_EQ(repaired_utf8("Gr\xfcn"), "Gr\uFFFDn");             // another encoding
}

}  // namespace
}  // namespace airlatch
