// SPDX-License-Identifier: GPL-3.0-or-later
// hostile_text.hpp: texts that are made to break what shows them, and what shows them wrongly.
#pragma once
#include <cstdint>
#include <random>
#include <string>
#include <string_view>
#include <vector>

namespace airlatch::hostile {

inline const std::vector<std::string>& hostile_texts() {
  using namespace std::string_literals;
  static const std::vector<std::string> all = {
      "\x1B[31mred\x1B[2J\x1B]0;title\a",
      "\u009B31mcsi\u009D0;title\u009C",
      "gpj.\u202Eexe\u2066x\u2069\u200Fy\u061C",
      "zero\u200Bwidth\uFEFF\u2060\u00ADhyphen",
      "line\nbreak\r\nand\ttab",
      "line\u2028and\u2029paragraph\u0085end",
      "a\0b"s,
      "latin \xFC\xE4 and \xC0\xAF and \xE2\x82",
      "\xED\xA0\x80 surrogate \xF4\x90\x80\x80 beyond",
      "\xEF\xBF\xBE\xEF\xBF\xBF none of XML's",
      "<script>alert(1)</script><img src=x onerror=alert(1)>",
      "\"><svg onload=alert(1)>&amp;&#27;]]>-->",
      "=cmd|'/c calc'!A0",
      "@SUM(1+9)*cmd",
      "+1-1,\"a\"\"b\";c",
      "{\"channel\":\"x\"}\\u001b\\n{}%s%n{0}",
      "\U000E0041\U000E0042 tags \U0001F468\u200D\U0001F469",
      std::string(100'000, 'x'),
      "a" + std::string(30'000, '\x1B'),
      " ",
      "../../etc/passwd"};
  return all;
}

// One of them, or a few random bytes.
inline std::string drawn_text(std::mt19937& random) {
  const auto& all = hostile_texts();
  const std::size_t which = random() % (all.size() + 8);
  if (which < all.size()) return all[which];
  std::string text(random() % 40, '\0');
  for (char& c : text) c = static_cast<char>(random() % 256);
  return text;
}

// As a text of a rig, plan or job: with all bytes as they are (`raw`), or as escapes.
inline std::string quoted_text(const std::string& text, bool raw) {
  std::string out = "\"";
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (c == '"' || c == '\\')
      out += std::string("\\") + c;
    else if (raw || (byte >= 0x20 && byte < 0x7F))
      out += c;
    else
      for (const unsigned shift : {6U, 3U, 0U}) {
        if (shift == 6U) out += '\\';
        out += static_cast<char>('0' + (byte >> shift & 7U));
      }
  }
  return out + "\"";
}

}  // namespace airlatch::hostile
