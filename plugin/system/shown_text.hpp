// SPDX-License-Identifier: GPL-3.0-or-later
// shown_text.hpp: the one door for text from outside on its way to people.
//
// In    names of files, channels and units, what users typed, what libraries say: any bytes.
// Out   UTF-8 that neither steers what shows it nor hides anything: control characters, marks of
//       writing direction, of no width and of line ends stand as visible escapes (\n, \x1B,
//       \u202E), what is no UTF-8 as U+FFFD; what is too long is shortened in its middle.
// How   twice through the door is as once: a backslash stays one.
//
// Who writes to people goes through here last: `tell` (stdout and stderr), Screen, speak, TextBlock
// (SVG, PDF) and html_text. Where a name is one of several things in a line, it goes through here
// before it, so that it cannot end the line or push the others out of it.
// JSON is exact; json_shown only writes the same text so that it steers nothing.
#pragma once
#include <cstddef>
#include <string>
#include <string_view>

namespace airlatch {

inline constexpr std::size_t kLongestName = 120;   // bytes of a name within a line
inline constexpr std::size_t kLongestLine = 4000;  // bytes of a line or a paragraph

// On one line of at most `longest` bytes.
[[nodiscard]] std::string shown_text(std::string_view text, std::size_t longest = kLongestLine);

// A name within a line.
[[nodiscard]] inline std::string shown_name(std::string_view name) {
  return shown_text(name, kLongestName);
}

// Text of several lines: their ends stay, each line is a shown_text.
[[nodiscard]] std::string shown_lines(std::string_view text);

// A JSON text (valid, UTF-8) with what would steer a terminal as \u escapes: the same JSON.
[[nodiscard]] std::string json_shown(std::string json);

}  // namespace airlatch
