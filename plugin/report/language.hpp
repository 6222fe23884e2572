// SPDX-License-Identifier: GPL-3.0-or-later
// language.hpp: the customer's page in the customer's language.
//
// In    messages in English, marked by say() or translatable(); catalogues in po/, one a language.
// Out   the message in the language; numbers and dates as that language writes them.
// How   msgfmt checks and compiles the catalogues, the build puts them into the program, and they
//       are looked up here. gettext's own run-time wants installed files and an installed locale and
//       speaks for the whole process; this works from a build tree, in a thread, in a host.
#pragma once
#include <functional>
#include <initializer_list>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "plugin/message/translatable.hpp"

namespace airlatch {

class Language {
 public:
  // The translation; empty where there is none.
  using Lookup = std::function<std::string_view(std::string_view english)>;

  Language();  // English
  // For tests: a language of its own.
  Language(std::string code, char decimal, Lookup lookup);
  // "de"; English where it is not known.
  static Language of(std::string_view code);
  // As LANGUAGE, LC_ALL, LC_MESSAGES and LANG ask, in this order.
  static Language of_environment();
  static std::vector<std::string> codes();

  [[nodiscard]] const std::string& code() const { return code_; }
  [[nodiscard]] char decimal() const { return decimal_; }

  using Filling = std::initializer_list<std::pair<std::string_view, std::string>>;
  // {name} stands for what `filling` has for it.
  [[nodiscard]] std::string say(std::string_view english, Filling filling = {}) const;
  [[nodiscard]] std::string number(double value, int decimals) const;
  // Of an ISO 8601 day; as it is where it is none.
  [[nodiscard]] std::string date(const std::string& day) const;

 private:
  std::string code_ = "en";
  char decimal_ = '.';
  Lookup lookup_;
};

}  // namespace airlatch
