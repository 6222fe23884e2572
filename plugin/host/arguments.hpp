// SPDX-License-Identifier: GPL-3.0-or-later
// arguments.hpp: the options and operands that a command declares.
//
// A thin layer over the library that parses command lines, so that its long compile time is paid in
// three files (arguments.cpp, main.cpp, describe.cpp) and not in every command. The value of an
// option goes to the variable it was declared with, which must live until the command has run.
#pragma once
#include <cstdint>
#include <string>
#include <vector>

namespace CLI {
class App;
class Option;
}  // namespace CLI

namespace airlatch {

class Arguments {
 public:
  // Each returns itself, to be narrowed further.
  class Option {
   public:
    explicit Option(CLI::Option* option) : option_(option) {}
    Option& required();
    Option& one_of(const std::vector<std::string>& words);
    Option& separated_by(char mark);  // several values in one word

   private:
    CLI::Option* option_;
  };

  explicit Arguments(CLI::App& app) : app_(&app) {}
  // "--name", or "NAME" for what stands without one.
  Option option(const std::string& name, std::string& into, const std::string& about);
  Option option(const std::string& name, std::vector<std::string>& into, const std::string& about);
  // A number is decimal, and within its range, which help and errors name; there is none without.
  template <typename Number>
  struct Within {
    Number least, most;
  };
  Option option(const std::string& name, double& into, Within<double> range,
                const std::string& about);
  Option option(const std::string& name, int& into, Within<int> range, const std::string& about);
  Option option(const std::string& name, std::int64_t& into, Within<std::int64_t> range,
                const std::string& about);
  Option option(const std::string& name, std::uint64_t& into, Within<std::uint64_t> range,
                const std::string& about);
  void flag(const std::string& name, bool& into, const std::string& about);
  void footer(const std::string& text);  // below the help
  // A verb of the command, and whether it was given. One of them must be.
  Arguments verb(const std::string& name, const std::string& about);
  [[nodiscard]] bool given() const;

 private:
  CLI::App* app_;
};

}  // namespace airlatch
