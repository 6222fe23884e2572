// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/host/arguments.hpp"

#include <CLI/CLI.hpp>

namespace airlatch {

Arguments::Option& Arguments::Option::required() {
  option_->required();
  return *this;
}

Arguments::Option& Arguments::Option::within(int least, int most) {
  option_->check(CLI::Range(least, most));
  return *this;
}

Arguments::Option& Arguments::Option::within(double least, double most) {
  option_->check(CLI::Range(least, most));
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

Arguments::Option Arguments::option(const std::string& name, double& into,
                                    const std::string& about) {
  return Option(app_->add_option(name, into, about));
}

Arguments::Option Arguments::option(const std::string& name, int& into, const std::string& about) {
  return Option(app_->add_option(name, into, about));
}

Arguments::Option Arguments::option(const std::string& name, std::int64_t& into,
                                    const std::string& about) {
  return Option(app_->add_option(name, into, about));
}

Arguments::Option Arguments::option(const std::string& name, std::uint64_t& into,
                                    const std::string& about) {
  return Option(app_->add_option(name, into, about));
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
