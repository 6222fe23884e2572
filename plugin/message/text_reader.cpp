// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <algorithm>
#include <limits>
#include <utility>

#include "plugin/message/fields.hpp"
#include "plugin/message/text_format.hpp"
#include "plugin/message/text_tokens.hpp"
#include "plugin/system/utf8.hpp"

namespace airlatch {
namespace {

using Kind = Token::Kind;

template <typename T>
constexpr bool kRepeated = false;
template <typename T>
constexpr bool kRepeated<std::vector<T>> = true;
// A message needs no colon before it.
template <typename T>
constexpr bool kMessage = MessageType<T>;
template <typename T>
constexpr bool kMessage<std::optional<T>> = MessageType<T>;
template <typename T>
constexpr bool kMessage<std::vector<T>> = MessageType<T>;

// "Rig.Channel"
template <MessageType Message>
std::string_view short_name() {
  return Fields<Message>::kName.substr(std::string_view("airlatch.v1.").size());
}

template <MessageType Message>
std::string known_fields() {
  std::string list;
  const Message message = {};
  Fields<Message>::each(message, [&](int, const char* name, const auto&) {
    list += (list.empty() ? "" : ", ") + std::string(name);
  });
  return list;
}

// All but the first, which means that none was given.
template <EnumType Enum>
std::string known_values() {
  std::string list;
  for (std::size_t k = 1; k < EnumNames<Enum>::kAll.size(); ++k)
    list += (k > 1 ? ", " : "") + std::string(EnumNames<Enum>::kAll[k]);
  return list;
}

std::string found(const Token& token) {
  if (token.kind == Kind::kEnd) return "the end of the text";
  return fmt::format("{:?}", token.text);
}

class TextReader {
 public:
  explicit TextReader(std::string_view text) : tokens_(text) {}

  template <MessageType Message>
  void whole(Message& message, Places& places) {
    while (tokens_.current().kind != Kind::kEnd) field(message, places);
  }

 private:
  template <MessageType Message>
  void field(Message& message, Places& places) {
    const Token name = tokens_.current();
    if (name.kind != Kind::kWord)
      refuse(fmt::format("a field's name is expected here, not {}", found(name)),
             "the fields are " + known_fields<Message>());
    tokens_.next();
    bool known = false;
    Fields<Message>::each(message, [&](int, const char* field_name, auto& member) {
      if (known || name.text != field_name) return;
      known = true;
      entry(field_name, name.at, member, places);
    });
    if (!known)
      refuse(fmt::format("{} has no field \"{}\"", short_name<Message>(), name.text),
             "the fields are " + known_fields<Message>());
    if (!accept(";")) accept(",");
  }

  template <typename T>
  void entry(const char* name, Place at, T& member, Places& places) {
    if constexpr (!kRepeated<T>)
      if (places.of(name))
        refuse(fmt::format("the field \"{}\" is given twice", name), "keep one of them");
    if constexpr (kMessage<T>)
      accept(":");
    else
      expect(":");
    if constexpr (kRepeated<T>) {
      if (accept("["))
        list(name, member, places);
      else
        value(member.emplace_back(), placed(name, at, places));
    } else {
      value(member, placed(name, at, places));
    }
  }
  template <typename T>
  void list(const char* name, std::vector<T>& members, Places& places) {
    if (accept("]")) return;
    for (;;) {
      value(members.emplace_back(), placed(name, tokens_.current().at, places));
      if (accept("]")) return;
      expect(",");
    }
  }
  static Places& placed(const char* name, Place at, Places& places) {
    return places.fields.emplace_back(Places{name, at, {}});
  }

  // Values, each at its place.
  template <typename T>
  void value(std::optional<T>& member, Places& place) {
    member =
        T{};  // not emplace: clang 14 takes a nested struct for not default-constructible there
    value(*member, place);
  }
  template <MessageType Message>
  void value(Message& message, Places& places) {
    const bool angle = accept("<");
    if (!angle) expect("{");
    while (!looking_at(">") && !looking_at("}")) field(message, places);
    expect(angle ? ">" : "}");
  }
  void value(double& number, Places&) {
    const bool negative = accept("-");
    number = magnitude();
    tokens_.next();
    if (negative) number = -number;
  }
  void value(std::uint32_t& number, Places&) {
    number = static_cast<std::uint32_t>(integer(std::numeric_limits<std::uint32_t>::max()));
  }
  void value(std::int64_t& number, Places&) {
    number = signed_integer(std::numeric_limits<std::int64_t>::max());
  }
  void value(bool& yes, Places& place) {
    const Token token = tokens_.current();
    if (token.kind == Kind::kInteger) {
      yes = integer(1) != 0;
      return;
    }
    if (token.kind == Kind::kWord) tokens_.next();
    const auto one_of = [&](auto... names) { return ((token.text == names) || ...); };
    yes = one_of("true", "True", "t");
    if (!yes && !one_of("false", "False", "f"))
      refuse(fmt::format("{} is neither true nor false, for the field \"{}\"", found(token),
                         place.field),
             "the values are true, false");
  }
  template <EnumType Enum>
  void value(Enum& one, Places& place) {
    const Token token = tokens_.current();
    if (token.kind == Kind::kInteger || looking_at("-")) {
      one = static_cast<Enum>(signed_integer(std::numeric_limits<int>::max()));
      return;
    }
    if (token.kind == Kind::kWord) tokens_.next();
    const auto& names = EnumNames<Enum>::kAll;
    const auto at = std::find(names.begin(), names.end(), token.text);
    if (at == names.end())
      refuse(fmt::format("{} is not a value of the field \"{}\"", found(token), place.field),
             "the values are " + known_values<Enum>());
    one = static_cast<Enum>(at - names.begin());
  }
  void value(std::string& text, Places& place) {
    const Place from = tokens_.current().at;
    if (tokens_.current().kind != Kind::kString)
      refuse(fmt::format("a text is expected here, not {}", found(tokens_.current())),
             "put it in quotes");
    for (; tokens_.current().kind == Kind::kString; tokens_.next())
      text += string_of(tokens_.current().text);
    if (!is_utf8(text))
      throw TextError(from, fmt::format("the text of the field \"{}\" is not UTF-8", place.field),
                      "save the file as UTF-8");
  }

  // What the token says as a number without its sign; it stays the current one.
  [[nodiscard]] double magnitude() const {
    const Token& token = tokens_.current();
    if (token.kind == Kind::kFloat) return float_of(token.text);
    if (token.kind == Kind::kInteger) {
      if (token.text.size() > 1 && token.text.front() == '0')
        refuse(fmt::format("{} is not decimal", found(token)), "leave out the 0 in front");
      return float_of(token.text);
    }
    if (token.kind == Kind::kWord) {
      std::string word(token.text);
      for (char& c : word)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c + ('a' - 'A'));
      if (word == "inf" || word == "infinity") return std::numeric_limits<double>::infinity();
      if (word == "nan") return std::numeric_limits<double>::quiet_NaN();
    }
    refuse(fmt::format("a number is expected here, not {}", found(token)), "give one, as in 0.3");
  }
  std::uint64_t integer(std::uint64_t largest) {
    const Token& token = tokens_.current();
    if (token.kind != Kind::kInteger)
      refuse(fmt::format("a whole number is expected here, not {}", found(token)),
             "give one, as in 10");
    const auto number = integer_of(token.text, largest);
    if (!number)
      refuse(fmt::format("{} is out of range", found(token)),
             fmt::format("{} is the largest", largest));
    tokens_.next();
    return *number;
  }
  // There is one negative number more than there are positive ones.
  std::int64_t signed_integer(std::uint64_t largest) {
    if (!accept("-")) return static_cast<std::int64_t>(integer(largest));
    return static_cast<std::int64_t>(0 - integer(largest + 1));
  }

  [[nodiscard]] bool looking_at(std::string_view text) const {
    return tokens_.current().text == text;
  }
  bool accept(std::string_view text) {
    if (!looking_at(text)) return false;
    tokens_.next();
    return true;
  }
  void expect(std::string_view text) {
    if (!accept(text))
      refuse(fmt::format("\"{}\" is expected here, not {}", text, found(tokens_.current())),
             "correct the text there");
  }
  [[noreturn]] void refuse(const std::string& what, const std::string& mend) const {
    throw TextError(tokens_.current().at, what, mend);
  }

  TextTokens tokens_;
};

}  // namespace

const Places* Places::of(std::string_view name, std::size_t index) const {
  for (const Places& one : fields)
    if (one.field == name && index-- == 0) return &one;
  return nullptr;
}

template <typename Message>
Message parse_text(std::string_view text, Places* places) {
  Message message = {};
  Places none;
  TextReader(text).whole(message, places ? *places : none);
  return message;
}

template Event parse_text(std::string_view, Places*);
template Rig parse_text(std::string_view, Places*);
template Plan parse_text(std::string_view, Places*);
template Job parse_text(std::string_view, Places*);
template Report parse_text(std::string_view, Places*);

}  // namespace airlatch
