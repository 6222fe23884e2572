// SPDX-License-Identifier: GPL-3.0-or-later
// utf8.hpp: checks whether bytes are UTF-8 (Unicode 15, table 3-7), and repairs those that are not.
//
// A message's strings are UTF-8 by its format; names of channels and files come from anywhere.
#pragma once
#include <cstddef>
#include <string>
#include <string_view>

namespace airlatch {

struct Character {
  std::size_t length = 0;  // bytes
  char32_t code = 0;       // kNoCharacter: the longest piece that begins one and does not end it
};
inline constexpr char32_t kNoCharacter = 0xffffffff;
// The character at the front. REQUIRES: bytes are there.
[[nodiscard]] Character front_character(std::string_view bytes);

[[nodiscard]] bool is_utf8(std::string_view bytes);
// Each longest piece that begins a character and does not end it becomes U+FFFD, as in the JSON
// lines.
[[nodiscard]] std::string repaired_utf8(std::string_view bytes);

}  // namespace airlatch
