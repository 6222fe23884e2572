// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/system/shown_text.hpp"

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "plugin/system/input_error.hpp"
#include "plugin/system/utf8.hpp"

namespace airlatch {
namespace {

using namespace std::string_literals;

TEST(ShownText, OrdinaryTextOfAnyLanguageStays) {
  for (const char* const text : {"", "bench", "Druck [kPa] ± 2 °C", "線圧", "давление", "ضغط",
                                 "C:\\logs\\a.csv", "a <b> & \"c\" 'd'", "1 µV", "👍"})
    EXPECT_EQ(shown_text(text), text);
}

TEST(ShownText, WhatSteersOrHidesIsSeen) {
  EXPECT_EQ(shown_text("a\x1B[31mb"), "a\\x1B[31mb");
  EXPECT_EQ(shown_text("a\0b"s), "a\\x00b");
  EXPECT_EQ(shown_text("a\nb\rc\td\x7F"), "a\\nb\\rc\\td\\x7F");
  EXPECT_EQ(shown_text("\u009B31m"), "\\x9B31m");  // CSI in one character
  EXPECT_EQ(shown_text("gpj.\u202Eexe"), "gpj.\\u202Eexe");
  EXPECT_EQ(shown_text("a\u200Bb\u2066c\uFEFFd\u2028e\u061Cf\u00ADg"),
            "a\\u200Bb\\u2066c\\uFEFFd\\u2028e\\u061Cf\\xADg");
  EXPECT_EQ(shown_text("\U000E0041"), "\\U000E0041");  // a tag
  EXPECT_EQ(shown_text("\uFFFF"), "\\uFFFF");          // XML has no such character
}

TEST(ShownText, WhatIsNoUtf8IsReplaced) {
  EXPECT_EQ(shown_text("Druck \xFC"), "Druck \uFFFD");
  EXPECT_EQ(shown_text("\xC0\xAF"), "\uFFFD\uFFFD");  // an overlong slash
  EXPECT_EQ(shown_text("\xE2\x82"), "\uFFFD");
}

TEST(ShownText, TwiceIsAsOnce) {
  const std::string text = "\x1B]0;x\a \\x1B \xFF \u202E" + std::string(9000, 'a') + "ü";
  for (const std::size_t longest : {10U, 100U, 4000U, 40000U}) {
    const std::string once = shown_text(text, longest);
    EXPECT_LE(once.size(), longest);
    EXPECT_EQ(shown_text(once, longest), once);
    EXPECT_TRUE(is_utf8(once));
  }
}

TEST(ShownText, IsShortenedInItsMiddleBetweenCharacters) {
  EXPECT_EQ(shown_text("0123456789abcdef", 10), "0123…def");
  for (std::size_t longest = 4; longest < 60; ++longest) {
    std::string text = "begin ";
    for (int k = 0; k < 20000; ++k) text += "ü";
    const std::string shown = shown_text(text + " end", longest);
    EXPECT_LE(shown.size(), longest);
    EXPECT_TRUE(is_utf8(shown)) << shown;
    EXPECT_NE(shown.find("…"), std::string::npos);
  }
}

TEST(ShownText, LinesKeepTheirEnds) {
  EXPECT_EQ(shown_lines("a\nb\x1B\n\n"), "a\nb\\x1B\n\n");
  EXPECT_EQ(shown_lines("a"), "a");
}

TEST(ShownText, JsonStaysTheSameJson) {
  const nlohmann::json json = {
      {"a\u009B", "b\u202E\U000E0041\x7F \x1B\n 線 °C"}, {"n", 1.5}, {"e", "\\u202E"}};
  const std::string shown = json_shown(json.dump());
  EXPECT_EQ(nlohmann::json::parse(shown), json);
  EXPECT_EQ(shown_text(shown), shown);
  EXPECT_NE(shown.find("線 °C"), std::string::npos);
}

TEST(ShownText, AnErrorIsOneBoundedLineWithAllItsParts) {
  const std::string many(100'000, 'x'), hostile = "\x1B[2J\u202E\n" + many;
  const std::string line =
      InputError(ExitStatus::kUnusableData, hostile, hostile, hostile, "correct it").what();
  EXPECT_LE(line.size(), 580U);
  EXPECT_EQ(shown_text(line), line);
  EXPECT_TRUE(line.ends_with("; correct it"));
  EXPECT_EQ(std::string(InputError(ExitStatus::kUsage, "a", "line 3", "what", "mend").what()),
            "a, line 3: what; mend");
}

}  // namespace
}  // namespace airlatch
