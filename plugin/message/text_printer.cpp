// SPDX-License-Identifier: GPL-3.0-or-later
#include <fmt/format.h>

#include <bit>
#include <cmath>

#include "plugin/message/fields.hpp"
#include "plugin/message/text_format.hpp"
#include "plugin/message/text_tokens.hpp"

namespace airlatch {
namespace {

// What is not printable ASCII is written as three octal digits.
std::string quoted(const std::string& text) {
  std::string out = "\"";
  for (const char c : text) {
    constexpr std::string_view kPlain = "\n\r\t\"'\\";
    constexpr std::string_view kLetters = "nrt\"'\\";
    if (const std::size_t at = kPlain.find(c); at != std::string_view::npos)
      out += {'\\', kLetters[at]};
    else if (c < ' ' || c > '~')
      out += fmt::format("\\{:03o}", static_cast<unsigned char>(c));
    else
      out += c;
  }
  return out + '"';
}

// The shorter of 15 and 17 digits that is read as the same number.
std::string digits(double number) {
  if (std::isnan(number)) return "nan";
  if (std::isinf(number)) return number > 0 ? "inf" : "-inf";
  const std::string shorter = fmt::format("{:.15g}", number);
  return float_of(shorter) == number ? shorter : fmt::format("{:.17g}", number);
}

class TextPrinter {
 public:
  template <MessageType Message>
  void fields(const Message& message) {
    Fields<Message>::each(message,
                          [&](int, const char* name, const auto& value) { set(name, value); });
  }
  std::string out = {};

 private:
  // A field where it is not its default; proto3 distinguishes 0 from -0.
  void set(const char* name, double value) {
    if (std::bit_cast<std::uint64_t>(value) != 0) one(name, value);
  }
  void set(const char* name, const std::string& value) {
    if (!value.empty()) one(name, value);
  }
  template <typename T>
  requires std::integral<T> || EnumType<T>
  void set(const char* name, T value) {
    if (value != T{}) one(name, value);
  }
  template <MessageType Message>
  void set(const char* name, const Message& message) {
    one(name, message);
  }
  template <typename T>
  void set(const char* name, const std::optional<T>& value) {
    if (value) one(name, *value);
  }
  template <typename T>
  void set(const char* name, const std::vector<T>& values) {
    for (const T& value : values) one(name, value);
  }

  template <MessageType Message>
  void one(const char* name, const Message& message) {
    line(fmt::format("{} {{", name));
    indent_ += 2;
    fields(message);
    indent_ -= 2;
    line("}");
  }
  template <typename T>
  void one(const char* name, const T& value) {
    line(fmt::format("{}: {}", name, written(value)));
  }
  void line(const std::string& text) {
    out.append(indent_, ' ');
    out += text;
    out += '\n';
  }

  static std::string written(double value) { return digits(value); }
  static std::string written(const std::string& value) { return quoted(value); }
  static std::string written(EnumType auto value) { return name_of(value); }
  static std::string written(std::integral auto value) { return fmt::format("{}", value); }

  std::size_t indent_ = 0;
};

}  // namespace

template <typename Message>
std::string print_text(const Message& message) {
  TextPrinter printer;
  printer.fields(message);
  return std::move(printer.out);
}

template std::string print_text(const Event&);
template std::string print_text(const Rig&);
template std::string print_text(const Plan&);
template std::string print_text(const Job&);
template std::string print_text(const Report&);

}  // namespace airlatch
