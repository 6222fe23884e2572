// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/host/arguments.hpp"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <charconv>
#include <concepts>
#include <optional>

namespace airlatch {
namespace {

std::string written(double number) { return fmt::format("{:.15g}", number); }
std::string written(std::integral auto number) { return fmt::format("{}", number); }

// The whole text as a decimal number that the type holds.
template <typename Number>
std::optional<Number> number_of(const std::string& text) {
  const char *from = text.data(), *const to = from + text.size();
  if (text.starts_with('+') && !text.starts_with("+-")) ++from;
  Number number{};
  const auto [end, error] = std::from_chars(from, to, number);
  if (from == to || error != std::errc() || end != to) return std::nullopt;
  return number;
}

template <typename Number>
CLI::Option* add_number(CLI::App& app, const std::string& name, Number& into,
                        Arguments::Within<Number> range, const std::string& about) {
  const std::string from_to =
      fmt::format("from {} to {}", written(range.least), written(range.most));
  constexpr bool kInteger = std::integral<Number>;
  const auto take = [&into, range, name, from_to](const std::string& text) {
    const std::optional<Number> number = number_of<Number>(text);
    // Written so that what is not a number is not within, either.
    if (!number || !(*number >= range.least && *number <= range.most))
      throw CLI::ValidationError(
          name, fmt::format("'{}' is no {} {}", text, kInteger ? "integer" : "number", from_to));
    into = *number;
  };
  return app.add_option_function<std::string>(name, take, about)
      ->type_name((kInteger ? "INTEGER " : "NUMBER ") + from_to);
}

}  // namespace

Arguments::Option& Arguments::Option::required() {
  option_->required();
  return *this;
}

Arguments::Option& Arguments::Option::one_of(const std::vector<std::string>& words) {
  option_->check(CLI::IsMember(words));
  return *this;
}

Arguments::Option& Arguments::Option::separated_by(char mark) {
  option_->delimiter(mark);
  return *this;
}

Arguments::Option Arguments::option(const std::string& name, std::string& into,
                                    const std::string& about) {
  return Option(app_->add_option(name, into, about));
}

Arguments::Option Arguments::option(const std::string& name, std::vector<std::string>& into,
                                    const std::string& about) {
  return Option(app_->add_option(name, into, about));
}

Arguments::Option Arguments::option(const std::string& name, double& into, Within<double> range,
                                    const std::string& about) {
  return Option(add_number(*app_, name, into, range, about));
}

Arguments::Option Arguments::option(const std::string& name, int& into, Within<int> range,
                                    const std::string& about) {
  return Option(add_number(*app_, name, into, range, about));
}

Arguments::Option Arguments::option(const std::string& name, std::int64_t& into,
                                    Within<std::int64_t> range, const std::string& about) {
  return Option(add_number(*app_, name, into, range, about));
}

Arguments::Option Arguments::option(const std::string& name, std::uint64_t& into,
                                    Within<std::uint64_t> range, const std::string& about) {
  return Option(add_number(*app_, name, into, range, about));
}

void Arguments::flag(const std::string& name, bool& into, const std::string& about) {
  app_->add_flag(name, into, about);
}

void Arguments::footer(const std::string& text) { app_->footer(text); }

Arguments Arguments::verb(const std::string& name, const std::string& about) {
  CLI::App* const verb = app_->add_subcommand(name, about);
  app_->require_subcommand(1);
  return Arguments(*verb);
}

bool Arguments::given() const { return app_->parsed(); }

}  // namespace airlatch
