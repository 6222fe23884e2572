// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/system/shown_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <utility>

#include "plugin/system/utf8.hpp"

namespace airlatch {
namespace {

constexpr std::string_view kReplacement = "\xef\xbf\xbd";  // U+FFFD
constexpr std::string_view kCut = "\xe2\x80\xa6";          // U+2026, for what was left out

// First and last of the characters that steer or hide (Unicode 15: categories Cc, Cf, Zl, Zp, and
// what is shown as nothing), and those that XML 1.0 keeps out.
constexpr std::array<std::pair<char32_t, char32_t>, 17> kSteering = {{{0x00, 0x1f},
                                                                      {0x7f, 0x9f},
                                                                      {0xad, 0xad},
                                                                      {0x34f, 0x34f},
                                                                      {0x61c, 0x61c},
                                                                      {0x115f, 0x1160},
                                                                      {0x17b4, 0x17b5},
                                                                      {0x180b, 0x180f},
                                                                      {0x200b, 0x200f},
                                                                      {0x2028, 0x202e},
                                                                      {0x2060, 0x206f},
                                                                      {0x3164, 0x3164},
                                                                      {0xfeff, 0xfeff},
                                                                      {0xffa0, 0xffa0},
                                                                      {0xfff0, 0xfffb},
                                                                      {0xfffe, 0xffff},
                                                                      {0xe0000, 0xe0fff}}};

bool steers(char32_t code) {
  return std::any_of(kSteering.begin(), kSteering.end(), [&](const auto& range) {
    return range.first <= code && code <= range.second;
  });
}

bool plain_ascii(std::string_view text) {
  return std::all_of(text.begin(), text.end(), [](char c) { return c >= 0x20 && c != 0x7f; });
}

std::string escape_of(char32_t code) {
  if (code == '\n') return "\\n";
  if (code == '\r') return "\\r";
  if (code == '\t') return "\\t";
  const auto number = static_cast<std::uint32_t>(code);
  return number < 0x100     ? fmt::format("\\x{:02X}", number)
         : number < 0x10000 ? fmt::format("\\u{:04X}", number)
                            : fmt::format("\\U{:08X}", number);
}

std::string harmless(std::string_view text) {
  if (plain_ascii(text)) return std::string(text);
  std::string out;
  while (!text.empty()) {
    const Character character = front_character(text);
    if (character.code == kNoCharacter)
      out += kReplacement;
    else if (steers(character.code))
      out += escape_of(character.code);
    else
      out += text.substr(0, character.length);
    text.remove_prefix(character.length);
  }
  return out;
}

bool inside_character(char c) { return (static_cast<unsigned char>(c) & 0xc0) == 0x80; }

}  // namespace

std::string shown_text(std::string_view text, std::size_t longest) {
  // Far more than is shown need not be looked at: no byte becomes less than one.
  std::string begin, end;
  if (text.size() > 4 * longest) {
    begin = harmless(text.substr(0, longest));
    end = harmless(text.substr(text.size() - longest));
  } else {
    begin = harmless(text);
    if (begin.size() <= longest) return begin;
    end = begin;
  }
  const std::size_t room = longest - std::min(longest, kCut.size());
  std::size_t to = room - room / 2, from = end.size() - room / 2;
  while (to > 0 && inside_character(begin[to])) --to;
  while (from < end.size() && inside_character(end[from])) ++from;
  return begin.substr(0, to) + std::string(kCut) + end.substr(from);
}

std::string shown_lines(std::string_view text) {
  std::string out;
  while (!text.empty()) {
    const std::size_t end = text.find('\n');
    out += shown_text(text.substr(0, end));
    if (end == std::string_view::npos) break;
    out += '\n';
    text.remove_prefix(end + 1);
  }
  return out;
}

std::string json_shown(std::string json) {
  const auto above_ascii = [](char c) { return c < 0 || c == 0x7f; };
  if (std::none_of(json.begin(), json.end(), above_ascii)) return json;
  std::string out;
  std::string_view rest = json;
  while (!rest.empty()) {
    const Character character = front_character(rest);
    const char32_t code = character.code;
    if (code < 0x7f || code == kNoCharacter || !steers(code))
      out += rest.substr(0, character.length);
    else if (code < 0x10000)
      out += fmt::format("\\u{:04x}", static_cast<std::uint32_t>(code));
    else
      out += fmt::format("\\u{:04x}\\u{:04x}",
                         0xd800 + static_cast<std::uint32_t>((code - 0x10000) >> 10),
                         0xdc00 + static_cast<std::uint32_t>((code - 0x10000) & 0x3ff));
    rest.remove_prefix(character.length);
  }
  return out;
}

}  // namespace airlatch
