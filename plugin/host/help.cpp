// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/host/help.hpp"

#include <CLI/CLI.hpp>
#include <memory>
#include <optional>
#include <vector>

#include "plugin/system/nearest_word.hpp"
#include "plugin/host/output.hpp"

namespace airlatch {
namespace {

std::vector<const CLI::App*> commands_of(const CLI::App& app) {
  return app.get_subcommands([](const CLI::App*) { return true; });
}

std::vector<std::string> command_names(const CLI::App& app) {
  std::vector<std::string> names;
  for (const CLI::App* command : commands_of(app)) names.push_back(command->get_name());
  return names;
}

const CLI::App* find_command(const CLI::App& app, const std::string& name) {
  for (const CLI::App* command : commands_of(app))
    if (command->get_name() == name) return command;
  return nullptr;
}

// Without their hyphens; hidden ones are not proposed.
std::vector<std::string> option_names(const CLI::App& app) {
  std::vector<std::string> names;
  for (const CLI::Option* option : app.get_options())
    if (!option->get_group().empty())
      for (const std::string& name : option->get_lnames()) names.push_back(name);
  return names;
}

bool is_option(const std::string& word) {
  return word[0] == '-' && word.find_first_not_of('-') != std::string::npos;
}

struct Misuse {
  std::string what, mend;
};

// `path`: how the command is called, "airlatch ledger".
Misuse unknown_word(const CLI::App& app, const std::string& path, const std::string& word) {
  const bool option = is_option(word);
  const std::string bare = option ? word.substr(word.find_first_not_of('-')) : word;
  const std::string nearest =
      nearest_word(bare.substr(0, bare.find('=')), option ? option_names(app) : command_names(app));
  const std::size_t in = path.find(' ');  // the program's name begins the line already
  const std::string owner = in == std::string::npos ? "no " : path.substr(in + 1) + " has no ";
  return {owner + (option ? "option '" : "command '") + word + "'",
          nearest.empty() ? path + " --help shows what there is"
                          : "did you mean '" + std::string(option ? "--" : "") + nearest + "'?"};
}

// The first word of the command line that was not recognised and that looks like an option, or that
// stands where a command was due. `path` grows to the command that it was given to.
std::optional<Misuse> mistyped(const CLI::App& program) {
  std::string path = program.get_name();
  for (const CLI::App* app = &program;;) {
    const std::vector<CLI::App*> parsed = app->get_subcommands();
    const bool command_due = parsed.empty() && !command_names(*app).empty();
    for (const std::string& word : app->remaining()) {
      if (word == "--") break;  // what follows is meant as it stands
      if (is_option(word) || command_due) return unknown_word(*app, path, word);
    }
    if (parsed.empty()) return std::nullopt;
    app = parsed.front();
    path += " " + app->get_name();
  }
}

}  // namespace

Run add_help(Arguments app, const CLI::App& program) {
  auto words = std::make_shared<std::vector<std::string>>();
  app.option("COMMAND", *words, "the command to explain (default: the program)");
  return [words, &program] {
    const CLI::App* about = &program;
    std::string path = program.get_name();
    for (const std::string& word : *words) {
      const CLI::App* const next = find_command(*about, word);
      if (!next) {
        const Misuse misuse = unknown_word(*about, path, word);
        throw InputError(ExitStatus::kUsage, "", "", misuse.what, misuse.mend);
      }
      about = next;
      path += " " + word;
    }
    Output("-").write(about->get_formatter()->make_help(about, path, CLI::AppFormatMode::Normal));
    return ExitStatus::kDone;
  };
}

std::string misuse(const CLI::App& program, const CLI::ParseError& error) {
  const auto code = static_cast<CLI::ExitCodes>(error.get_exit_code());
  std::string line;
  // Other errors, an invalid number for instance, are found before all words have been read.
  if (code == CLI::ExitCodes::ExtrasError || code == CLI::ExitCodes::RequiredError)
    if (const auto word = mistyped(program)) line = word->what + "; " + word->mend;
  if (line.empty())
    line = std::string(error.what()) + "; " + program.get_name() + " --help shows what there is";
  return line;
}

}  // namespace airlatch
