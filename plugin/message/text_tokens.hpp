// SPDX-License-Identifier: GPL-3.0-or-later
// text_tokens.hpp: text of protobuf's text format as words, numbers, strings and signs.
//
// White space and comments (from # to the line's end) are passed over. One token is looked at; what
// is no token throws TextError.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "plugin/message/text_format.hpp"

namespace airlatch {

struct Token {
  enum class Kind { kWord, kInteger, kFloat, kString, kSign, kEnd };
  Kind kind = Kind::kEnd;
  std::string_view text = {};  // as written, strings with their quotes
  Place at = {};
};

class TextTokens {
 public:
  explicit TextTokens(std::string_view text) : text_(text) { next(); }
  [[nodiscard]] const Token& current() const { return current_; }
  void next();

 private:
  [[nodiscard]] bool ended() const { return at_ == text_.size(); }
  [[nodiscard]] char look() const { return ended() ? '\0' : text_[at_]; }
  void step();
  bool step_if(char wanted);
  void step_while(bool (*wanted)(char));
  void pass_over_space();
  Token::Kind number();
  void string(char quote);
  void escape();
  void hex_digits(int count);
  [[noreturn]] void refuse(const char* what, const char* mend) const;

  std::string_view text_;
  std::size_t at_ = 0;
  Place place_ = {1, 1};
  Token current_ = {};
};

// What tokens mean. REQUIRES: the token's text, of that kind.
// 10, 0x1f or 017; nothing when it is above `largest`.
std::optional<std::uint64_t> integer_of(std::string_view text, std::uint64_t largest);
// With or without an f behind it; beyond what a double holds it is infinite.
double float_of(std::string_view text);
// Without quotes, escapes resolved.
std::string string_of(std::string_view text);

}  // namespace airlatch
