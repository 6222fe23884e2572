// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/message/text_tokens.hpp"

#include <locale.h>
#include <stdlib.h>

#include <charconv>
#include <limits>

namespace airlatch {
namespace {

// Not <cctype>: a host's locale must not change what a file means.
bool is_space(char c) { return c == ' ' || (c >= '\t' && c <= '\r'); }
bool is_digit(char c) { return c >= '0' && c <= '9'; }
bool is_octal(char c) { return c >= '0' && c <= '7'; }
bool is_letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_'; }
bool is_word(char c) { return is_letter(c) || is_digit(c); }
bool is_hex(char c) { return is_digit(c) || (c >= 'a' && c <= 'f') || (c >= 'A' && c <= 'F'); }
bool is_control(char c) { return c >= 0 && c < ' '; }
bool in_line(char c) { return c != '\n' && c != '\0'; }

}  // namespace

void TextTokens::step() {
  if (text_[at_] == '\n')
    place_ = {place_.line + 1, 1};
  else if (text_[at_] == '\t')
    place_.column += 8 - (place_.column - 1) % 8;
  else
    ++place_.column;
  ++at_;
}

bool TextTokens::step_if(char wanted) {
  if (ended() || text_[at_] != wanted) return false;
  step();
  return true;
}

void TextTokens::step_while(bool (*wanted)(char)) {
  while (!ended() && wanted(text_[at_])) step();
}

void TextTokens::pass_over_space() {
  for (step_while(is_space); step_if('#'); step_while(is_space)) step_while(in_line);
}

void TextTokens::refuse(const char* what, const char* mend) const {
  throw TextError(place_, what, mend);
}

void TextTokens::next() {
  const bool behind_word = current_.kind == Token::Kind::kWord;
  const std::size_t end = at_;
  pass_over_space();
  const std::size_t from = at_;
  current_ = {Token::Kind::kEnd, {}, place_};
  if (ended()) return;
  const char first = look();
  if (is_control(first)) refuse("there is a control character here", "remove it");
  if (is_letter(first)) {
    step_while(is_word);
    current_.kind = Token::Kind::kWord;
  } else if (is_digit(first) ||
             (first == '.' && at_ + 1 < text_.size() && is_digit(text_[at_ + 1]))) {
    if (behind_word && from == end) refuse("a word runs into a number", "put a space between them");
    current_.kind = number();
  } else if (first == '"' || first == '\'') {
    string(first);
    current_.kind = Token::Kind::kString;
  } else {
    if (first < 0) refuse("a character that is not ASCII is outside a string", "put it in quotes");
    step();
    current_.kind = Token::Kind::kSign;
  }
  current_.text = text_.substr(from, at_ - from);
}

Token::Kind TextTokens::number() {
  bool is_float = false;
  const bool zero = step_if('0');
  if (zero && (step_if('x') || step_if('X'))) {
    if (!is_hex(look())) refuse("0x without hexadecimal digits", "give them, as in 0x1f");
    step_while(is_hex);
  } else if (zero && is_digit(look())) {
    step_while(is_octal);
    if (is_digit(look()))
      refuse("a number that begins with 0 is octal",
             "leave out the 0 in front, or the digits 8 and 9");
  } else {
    step_while(is_digit);
    if (step_if('.')) {
      is_float = true;
      step_while(is_digit);
    }
    if (step_if('e') || step_if('E')) {
      is_float = true;
      if (!step_if('-')) step_if('+');
      if (!is_digit(look())) refuse("an exponent without digits", "give them, as in 1e-3");
      step_while(is_digit);
    }
    if (step_if('f') || step_if('F')) is_float = true;
  }
  if (is_letter(look())) refuse("a number runs into a word", "put a space between them");
  if (look() == '.') refuse("a number has one decimal point too many", "keep one");
  return is_float ? Token::Kind::kFloat : Token::Kind::kInteger;
}

void TextTokens::string(char quote) {
  step();
  while (!step_if(quote)) {
    if (look() == '\0') refuse("a string does not end", "close its quotes");
    if (look() == '\n') refuse("a string goes beyond its line", "close its quotes, or write \\n");
    if (step_if('\\'))
      escape();
    else
      step();
  }
}

void TextTokens::escape() {
  constexpr std::string_view kLetters = "abfnrtv\\?'\"";
  if (kLetters.find(look()) != std::string_view::npos || is_octal(look()))
    step();  // further octal digits are read as what they are by string_of
  else if (step_if('x'))
    hex_digits(1);
  else if (step_if('u'))
    hex_digits(4);
  else if (step_if('U')) {
    constexpr const char* kWhat = "\\U goes up to \\U0010ffff";
    constexpr const char* kMend = "give a character's eight digits";
    if (!step_if('0') || !step_if('0')) refuse(kWhat, kMend);
    const bool high = step_if('1');
    if (!high && !step_if('0')) refuse(kWhat, kMend);
    if (high && is_hex(look()) && look() != '0') refuse(kWhat, kMend);
    hex_digits(5);
  } else
    refuse("this escape is not known", "write \\\\ for a backslash");
}

void TextTokens::hex_digits(int count) {
  for (; count > 0; --count) {
    if (!is_hex(look()))
      refuse("an escape lacks hexadecimal digits", "\\x has one or two, \\u four, \\U eight");
    step();
  }
}

std::optional<std::uint64_t> integer_of(std::string_view text, std::uint64_t largest) {
  int base = 10;
  if (text.starts_with("0x") || text.starts_with("0X")) {
    base = 16;
    text.remove_prefix(2);
  } else if (text.starts_with('0')) {
    base = 8;
  }
  std::uint64_t value = 0;
  if (std::from_chars(text.data(), text.data() + text.size(), value, base).ec != std::errc{} ||
      value > largest)
    return std::nullopt;
  return value;
}

// Not from_chars, which does not distinguish too large from too small; not strtod, which takes the
// decimal mark from the host's locale. glibc's locale "C" needs no memory.
double float_of(std::string_view text) {
  if (text.ends_with('f') || text.ends_with('F')) text.remove_suffix(1);
  const locale_t plain = newlocale(LC_ALL_MASK, "C", nullptr);
  const double value = strtod_l(std::string(text).c_str(), nullptr, plain);
  freelocale(plain);
  return value;
}

}  // namespace airlatch
