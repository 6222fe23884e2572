// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/message/utf8.hpp"

#include <algorithm>

namespace airlatch {
namespace {

struct Piece {
  std::size_t length = 0;
  bool whole = false;  // a character; else what can only be replaced
};

// The character at the front, or the longest piece of one. REQUIRES: bytes are there.
Piece front(std::string_view bytes) {
  const auto at = [&](std::size_t k) { return static_cast<unsigned char>(bytes[k]); };
  const unsigned char first = at(0);
  if (first < 0x80) return {1, true};
  if (first < 0xc2 || first > 0xf4) return {1, false};
  const std::size_t length = first < 0xe0 ? 2 : first < 0xf0 ? 3 : 4;
  // The second byte keeps out long forms, surrogates, and what lies beyond U+10FFFF.
  const unsigned char low = first == 0xe0 ? 0xa0 : first == 0xf0 ? 0x90 : 0x80;
  const unsigned char high = first == 0xed ? 0x9f : first == 0xf4 ? 0x8f : 0xbf;
  for (std::size_t k = 1; k < length; ++k) {
    if (k == bytes.size()) return {k, false};
    if (at(k) < (k == 1 ? low : 0x80) || at(k) > (k == 1 ? high : 0xbf)) return {k, false};
  }
  return {length, true};
}

}  // namespace

bool is_utf8(std::string_view bytes) {
  for (;;) {
    // Nearly all is ASCII, which needs no look at what a byte begins.
    const auto* other = std::find_if(bytes.begin(), bytes.end(), [](char c) { return c < 0; });
    bytes.remove_prefix(static_cast<std::size_t>(other - bytes.begin()));
    if (bytes.empty()) return true;
    const Piece piece = front(bytes);
    if (!piece.whole) return false;
    bytes.remove_prefix(piece.length);
  }
}

std::string repaired_utf8(std::string_view bytes) {
  std::string out;
  while (!bytes.empty()) {
    const Piece piece = front(bytes);
    out += piece.whole ? bytes.substr(0, piece.length) : std::string_view("\xef\xbf\xbd");
    bytes.remove_prefix(piece.length);
  }
  return out;
}

}  // namespace airlatch
