// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/text_input.hpp"

#include <gtest/gtest.h>
#include <zlib.h>

#include "plugin/sources/line_reader.hpp"
#include "plugin/system/input_error.hpp"
#include "plugin/system/sha256.hpp"
#include "tests/support/files.hpp"

namespace airlatch {
namespace {
using namespace test;

std::string packed(const std::string& text) {
  z_stream stream = {};
  deflateInit2(&stream, 6, Z_DEFLATED, 16 + MAX_WBITS, 8, Z_DEFAULT_STRATEGY);
  std::string out(deflateBound(&stream, text.size()) + 64, '\0'), in = text;
  stream.next_in = reinterpret_cast<Bytef*>(in.data());
  stream.avail_in = static_cast<uInt>(in.size());
  stream.next_out = reinterpret_cast<Bytef*>(out.data());
  stream.avail_out = static_cast<uInt>(out.size());
  deflate(&stream, Z_FINISH);
  out.resize(stream.total_out);
  deflateEnd(&stream);
  return out;
}

// UTF-16 of text whose letters lie below U+10000, but for one pair that is written as given.
std::string wide(const std::u16string& text, bool little, bool mark) {
  std::string out;
  for (const char16_t c : (mark ? u"\ufeff" : u"") + text) {
    const char low = static_cast<char>(c & 0xff), high = static_cast<char>(c >> 8);
    out += little ? low : high;
    out += little ? high : low;
  }
  return out;
}

class TextInputTest : public testing::Test {
 protected:
  std::vector<std::string> lines(const std::string& bytes) {
    LineReader reader(folder.write("x.csv", bytes), true);
    std::vector<std::string> out;
    for (std::string_view line; reader.next(line);) out.emplace_back(line);
    Sha256 digest;
    digest.add(bytes);
    EXPECT_EQ(reader.sha256(), digest.hex());
    return out;
  }
  Folder folder;
};

TEST_F(TextInputTest, TheSameLinesHoweverTheyAreWritten) {
  const std::vector<std::string> expected = {"time,\u00b0C \u03a9 \U0001F600", "0,1", "1,2"};
  const std::u16string letters = u"time,\u00b0C \u03a9 \U0001F600\r\n0,1\r\n1,2\r\n";
  const std::string plain = "time,\u00b0C \u03a9 \U0001F600\n0,1\n1,2\n";
  std::string returns = plain, both;
  std::replace(returns.begin(), returns.end(), '\n', '\r');
  for (const char c : plain) both += c == '\n' ? "\r\n" : std::string(1, c);
  for (const std::string& text :
       {plain, returns, both, "\xef\xbb\xbf" + plain, wide(letters, true, true),
        wide(letters, false, true), wide(letters, true, false), wide(letters, false, false)}) {
    EXPECT_EQ(lines(text), expected);
    EXPECT_EQ(lines(packed(text)), expected);
  }
  EXPECT_EQ(lines(packed(plain.substr(0, 9)) + packed(plain.substr(9))), expected);
}

TEST_F(TextInputTest, LongTextGoesThroughEveryFilterUnchanged) {
  std::string text;
  std::u16string letters;
  for (int k = 0; k < 200'000; ++k)
    text += std::to_string(k) + (k % 7 == 0 ? ",\u00b5s\n" : ",x\n");
  for (std::size_t k = 0; k < text.size(); ++k)
    if (static_cast<unsigned char>(text[k]) == 0xC2)
      letters += u'\u00b5', ++k;
    else
      letters += static_cast<char16_t>(static_cast<unsigned char>(text[k]));
  const auto expected = lines(text);
  ASSERT_EQ(expected.size(), 200'000U);
  EXPECT_TRUE(lines(packed(text)) == expected);
  EXPECT_TRUE(lines(wide(letters, true, true)) == expected);
  EXPECT_TRUE(lines(packed(wide(letters, false, true))) == expected);
}

TEST_F(TextInputTest, DamagedPackingIsToldAtItsLine) {
  std::string text = "time,a\n";
  for (long k = 0; k < 50'000; ++k) text += std::to_string(k) + "," + std::to_string(k * k) + "\n";
  const std::string sound = packed(text);
  for (const std::size_t bytes : {sound.size() / 2, sound.size() - 3}) {
    try {
      lines(sound.substr(0, bytes));
      FAIL() << bytes;
    } catch (const InputError& error) {
      EXPECT_EQ(error.status(), ExitStatus::kUnusableData);
      EXPECT_NE(std::string(error.what()).find("cut short"), std::string::npos) << error.what();
    }
  }
  std::string bad = sound;
  for (std::size_t k = bad.size() / 2; k < bad.size() / 2 + 8; ++k) bad[k] = '\xff';
  EXPECT_THROW(lines(bad), InputError);
}

}  // namespace
}  // namespace airlatch
