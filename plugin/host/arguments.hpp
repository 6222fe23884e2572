// SPDX-License-Identifier: GPL-3.0-or-later
// arguments.hpp: the options and operands that a command declares.
//
// A thin layer over the library that parses command lines, so that its long compile time is paid in
// three files (arguments.cpp, main.cpp, describe.cpp) and not in every command. The value of an
// option goes to the variable it was declared with, which must live until the command has run.
// An option that names a file says what becomes of it, so that no command writes onto what it reads:
// main checks that before the command runs.
#pragma once
#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "plugin/system/file_uses.hpp"

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
    Option& required();
    Option& one_of(const std::vector<std::string>& words);
    Option& separated_by(char mark);  // several values in one word
    // What it names is a file that is read, a file that is written, or the folder of a report. With
    // `beside`, also the files whose names are longer by these endings.
    Option& reads(const std::vector<std::string>& beside = {});
    Option& writes(const std::vector<std::string>& beside = {});
    Option& writes_report();

   private:
    friend class Arguments;
    using Values = std::function<std::vector<std::string>()>;
    Option(CLI::Option* option, const Arguments& of, Values values);
    Option& use(void (FileUses::*as)(const std::string&, const std::string&),
                const std::vector<std::string>& endings);
    CLI::Option* option_;
    CLI::App* app_;
    std::shared_ptr<std::vector<std::function<void(FileUses&)>>> uses_;
    Values values_;
  };

  explicit Arguments(CLI::App& app);
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
  void reads_standard_input();           // whatever the options say
  // A verb of the command, and whether it was given. One of them must be.
  Arguments verb(const std::string& name, const std::string& about);
  [[nodiscard]] bool given() const;
  // The files that the options and operands name, standard output among them. Once they are parsed.
  [[nodiscard]] FileUses file_uses() const;

 private:
  Arguments(CLI::App& app, const Arguments& of);
  CLI::App* app_;
  std::shared_ptr<std::vector<std::function<void(FileUses&)>>> uses_;
};

}  // namespace airlatch
