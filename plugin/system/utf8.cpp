// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/system/utf8.hpp"

#include <algorithm>

namespace airlatch {

Character front_character(std::string_view bytes) {
  const auto at = [&](std::size_t k) { return static_cast<unsigned char>(bytes[k]); };
  const unsigned char first = at(0);
  if (first < 0x80) return {1, first};
  if (first < 0xc2 || first > 0xf4) return {1, kNoCharacter};
  const std::size_t length = first < 0xe0 ? 2 : first < 0xf0 ? 3 : 4;
  // The second byte keeps out long forms, surrogates, and what lies beyond U+10FFFF.
  const unsigned char low = first == 0xe0 ? 0xa0 : first == 0xf0 ? 0x90 : 0x80;
  const unsigned char high = first == 0xed ? 0x9f : first == 0xf4 ? 0x8f : 0xbf;
  char32_t code = first & (0x7fU >> length);
  for (std::size_t k = 1; k < length; ++k) {
    if (k == bytes.size()) return {k, kNoCharacter};
    if (at(k) < (k == 1 ? low : 0x80) || at(k) > (k == 1 ? high : 0xbf)) return {k, kNoCharacter};
    code = code << 6 | (at(k) & 0x3fU);
  }
  return {length, code};
}

bool is_utf8(std::string_view bytes) {
  for (;;) {
    // Nearly all is ASCII, which needs no look at what a byte begins.
    const auto* other = std::find_if(bytes.begin(), bytes.end(), [](char c) { return c < 0; });
    bytes.remove_prefix(static_cast<std::size_t>(other - bytes.begin()));
    if (bytes.empty()) return true;
    const Character character = front_character(bytes);
    if (character.code == kNoCharacter) return false;
    bytes.remove_prefix(character.length);
  }
}

std::string repaired_utf8(std::string_view bytes) {
  std::string out;
  while (!bytes.empty()) {
    const Character character = front_character(bytes);
    out += character.code == kNoCharacter ? std::string_view("\xef\xbf\xbd")
                                          : bytes.substr(0, character.length);
    bytes.remove_prefix(character.length);
  }
  return out;
}

}  // namespace airlatch
