// SPDX-License-Identifier: GPL-3.0-or-later
// What the strings of text_tokens.hpp mean.
#include "plugin/message/text_tokens.hpp"

namespace airlatch {
namespace {

unsigned digit_of(char c) {
  if (c >= '0' && c <= '9') return static_cast<unsigned>(c - '0');
  return static_cast<unsigned>((c | 0x20) - 'a') + 10;
}

// Up to `most` digits of that base from the front of `text`.
std::uint32_t take_digits(std::string_view& text, unsigned base, int most) {
  const auto is_one = [&](char c) {
    const bool digit = (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f') || (c >= 'A' && c <= 'F');
    return digit && digit_of(c) < base;
  };
  std::uint32_t value = 0;
  for (; most > 0 && !text.empty() && is_one(text.front()); --most) {
    value = value * base + digit_of(text.front());
    text.remove_prefix(1);
  }
  return value;
}

void append_utf8(std::string& out, std::uint32_t point) {
  const auto tail = [&](unsigned shift) {
    out += static_cast<char>(0x80U | ((point >> shift) & 0x3fU));
  };
  if (point < 0x80) {
    out += static_cast<char>(point);
  } else if (point < 0x800) {
    out += static_cast<char>(0xc0U | (point >> 6U));
    tail(0);
  } else if (point < 0x10000) {
    out += static_cast<char>(0xe0U | (point >> 12U));
    tail(6);
    tail(0);
  } else {
    out += static_cast<char>(0xf0U | (point >> 18U));
    tail(12);
    tail(6);
    tail(0);
  }
}

// A head surrogate and the trail that follows it as \uXXXX are one character (UTF-16).
std::uint32_t code_point(std::string_view& text, int digits) {
  const std::uint32_t point = take_digits(text, 16, digits);
  if (point < 0xd800 || point >= 0xdc00 || !text.starts_with("\\u")) return point;
  std::string_view behind = text.substr(2);
  const std::uint32_t trail = take_digits(behind, 16, 4);
  if (trail < 0xdc00 || trail >= 0xe000) return point;
  text = behind;
  return 0x10000 + ((point - 0xd800) << 10U) + (trail - 0xdc00);
}

char plain_escape(char letter) {
  switch (letter) {
    case 'a':
      return '\a';
    case 'b':
      return '\b';
    case 'f':
      return '\f';
    case 'n':
      return '\n';
    case 'r':
      return '\r';
    case 't':
      return '\t';
    case 'v':
      return '\v';
    default:  // \ ? ' " stand for themselves
      return letter;
  }
}

}  // namespace

std::string string_of(std::string_view text) {
  text.remove_prefix(1);
  text.remove_suffix(1);
  std::string out;
  while (!text.empty()) {
    const char c = text.front();
    text.remove_prefix(1);
    if (c != '\\') {
      out += c;
      continue;
    }
    const char letter = text.front();
    if (letter >= '0' && letter <= '7') {
      out += static_cast<char>(take_digits(text, 8, 3));
      continue;
    }
    text.remove_prefix(1);
    if (letter == 'x')
      out += static_cast<char>(take_digits(text, 16, 2));
    else if (letter == 'u' || letter == 'U')
      append_utf8(out, code_point(text, letter == 'u' ? 4 : 8));
    else
      out += plain_escape(letter);
  }
  return out;
}

}  // namespace airlatch
