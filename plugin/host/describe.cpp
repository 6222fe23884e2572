// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/host/describe.hpp"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <vector>

namespace airlatch {
namespace {

struct OptionWords {
  std::vector<std::string> names;  // "-h", "--help"; empty: an operand
  std::string operand, about;
  std::string value;  // what an option takes; empty: nothing, or an operand that is no number
};

std::vector<OptionWords> options_of(const CLI::App& app) {
  std::vector<OptionWords> out;
  for (const CLI::Option* option : app.get_options()) {
    if (option->get_group().empty()) continue;  // hidden
    OptionWords words;
    for (const std::string& name : option->get_snames()) words.names.push_back("-" + name);
    for (const std::string& name : option->get_lnames()) words.names.push_back("--" + name);
    words.operand = option->get_positional() ? option->get_name(true) : "";
    words.about = option->get_description();
    if (option->get_type_name().find(" from ") != std::string::npos)  // a number
      words.value = option->get_type_name();
    else if (words.operand.empty() && option->get_expected_max() > 0)
      words.value = "VALUE";
    out.push_back(std::move(words));
  }
  return out;
}

std::vector<const CLI::App*> commands_of(const CLI::App& app) {
  return app.get_subcommands([](const CLI::App*) { return true; });
}

// Text as troff takes it: no line may begin with its marks, hyphens are meant.
std::string roff(const std::string& text) {
  std::string out;
  bool line_start = true;
  for (const char c : text) {
    if (line_start && (c == '.' || c == '\'')) out += "\\&";
    if (c == '\\')
      out += "\\e";
    else if (c == '-')
      out += "\\-";
    else
      out += c;
    line_start = c == '\n';
  }
  return out;
}

std::string roff_options(const CLI::App& app) {
  std::string out;
  for (const OptionWords& option : options_of(app)) {
    std::string names;
    for (const std::string& name : option.names)
      names += (names.empty() ? "" : ", ") + fmt::format("\\fB{}\\fR", roff(name));
    if (names.empty()) names = fmt::format("\\fI{}\\fR", roff(option.operand));
    if (!option.value.empty()) names += fmt::format(" \\fI{}\\fR", roff(option.value));
    out += fmt::format(".TP\n{}\n{}\n", names, roff(option.about));
  }
  return out;
}

// Commands without one have that of the command above them, or of the program.
bool has_own_footer(const CLI::App& app) {
  for (const CLI::App* above = app.get_parent(); above; above = above->get_parent())
    if (app.get_footer() == above->get_footer()) return false;
  return true;
}

std::string roff_command(const CLI::App& app, const std::string& name) {
  std::string out = fmt::format(".SS {}\n{}.\n", roff(name), roff(app.get_description()));
  out += roff_options(app);
  for (const CLI::App* verb : commands_of(app))
    out += roff_command(*verb, name + " " + verb->get_name());
  if (has_own_footer(app)) out += fmt::format(".PP\n.nf\n{}\n.fi\n", roff(app.get_footer()));
  return out;
}

std::string man(const CLI::App& app) {
  std::string out = fmt::format(
      ".TH AIRLATCH 1 \"\" \"airlatch {}\" \"User commands\"\n.SH NAME\nairlatch \\- what a pump "
      "of "
      "air\\-operated door locks did, from captured voltage, current and pressure\n.SH "
      "SYNOPSIS\n.B "
      "airlatch\n\\fICOMMAND\\fR [\\fIOPTIONS\\fR]\n.SH DESCRIPTION\n{}\n.SH OPTIONS\n",
      AIRLATCH_VERSION, roff(app.get_description()));
  out += roff_options(app) + ".SH COMMANDS\n";
  for (const CLI::App* command : commands_of(app))
    out += roff_command(*command, command->get_name());
  return out +
         ".SH EXIT STATUS\n0 done; 1 with \\-\\-strict where the verdict is a fault; 64 bad usage; "
         "65 "
         "unusable data; 66 file not found; 69 instrument unavailable; 73 cannot create output; 74 "
         "read or write failed.\n.SH FILES\n.TP\n"
         "\\fI$XDG_DATA_HOME/airlatch/ledger.sqlite\\fR, \\fI~/.local/share/airlatch/ledger.sqlite"
         "\\fR\nthe history of reports\n.SH CAUTIONS\n" +
         roff(app.get_footer()) +
         "\n.SH SEE ALSO\n.BR airlatch\\-rig (5),\n.BR airlatch\\-plan (5),\n"
         ".BR airlatch\\-job (5)\n";
}

// What `help` explains; all other operands are files.
bool takes_command(const CLI::App& command) { return command.get_name() == "help"; }

std::string names_of(const std::vector<const CLI::App*>& commands) {
  std::string out;
  for (const CLI::App* command : commands) out += (out.empty() ? "" : " ") + command->get_name();
  return out;
}

std::string flags_of(const CLI::App& app) {
  std::string out;
  for (const OptionWords& option : options_of(app))
    for (const std::string& name : option.names) out += (out.empty() ? "" : " ") + name;
  for (const CLI::App* verb : commands_of(app)) out += " " + verb->get_name();
  return out;
}

std::string bash(const CLI::App& app) {
  const std::string commands = names_of(commands_of(app));
  std::string cases;
  for (const CLI::App* command : commands_of(app))
    cases += fmt::format("    {}) words=\"{}{}\" ;;\n", command->get_name(), flags_of(*command),
                         takes_command(*command) ? " " + commands : "");
  return fmt::format(
      "# bash completion of airlatch; made from its option definitions\n"
      "_airlatch() {{\n"
      "  local cur=${{COMP_WORDS[COMP_CWORD]}} words\n"
      "  case ${{COMP_WORDS[1]}} in\n{}    *) words=\"{} {}\" ;;\n  esac\n"
      "  if [[ $COMP_CWORD -gt 1 && $cur != -* ]]; then\n"
      "    mapfile -t COMPREPLY < <(compgen -W \"$words\" -f -- \"$cur\")\n"
      "  else\n    mapfile -t COMPREPLY < <(compgen -W \"$words\" -- \"$cur\")\n  fi\n"
      "}}\ncomplete -o filenames -F _airlatch airlatch\n",
      cases, commands, flags_of(app));
}

// Quotes within single quotes; brackets and colons have a meaning of their own to zsh.
std::string quoted(const std::string& text, const std::string& escape = "") {
  std::string out;
  for (const char c : text) {
    if (c == '\'')
      out += "'\\''";
    else if (c == '\n')
      out += ' ';
    else if (escape.find(c) != std::string::npos)
      out += std::string("\\") + c;
    else
      out += c;
  }
  return out;
}

std::string zsh(const CLI::App& app) {
  std::string names, cases;
  for (const CLI::App* command : commands_of(app)) {
    names +=
        fmt::format("    '{}:{}'\n", command->get_name(), quoted(command->get_description(), ":"));
    std::string specs;
    for (const OptionWords& option : options_of(*command))
      for (const std::string& name : option.names)
        specs += fmt::format(" \\\n        '{}[{}]{}'", name, quoted(option.about, "[]:"),
                             option.value.empty() ? "" : ":value:_files");
    cases += fmt::format(
        "    {}) _arguments{} \\\n        '*:{}' ;;\n", command->get_name(), specs,
        takes_command(*command) ? "command:(" + names_of(commands_of(app)) + ")" : "file:_files");
  }
  return fmt::format(
      "#compdef airlatch\n# made from its option definitions\n_airlatch() {{\n  local -a commands\n"
      "  commands=(\n{}  )\n  if (( CURRENT == 2 )); then\n    _describe command commands\n    "
      "return\n  fi\n  local command=$words[2]\n  shift words\n  (( CURRENT-- ))\n  case $command "
      "in\n{}  esac\n}}\n_airlatch \"$@\"\n",
      names, cases);
}

std::string fish(const CLI::App& app) {
  std::string out = "# fish completion of airlatch; made from its option definitions\n";
  for (const CLI::App* command : commands_of(app)) {
    out += fmt::format("complete -c airlatch -n __fish_use_subcommand -a {} -d '{}'\n",
                       command->get_name(), quoted(command->get_description()));
    if (takes_command(*command))
      out += fmt::format("complete -c airlatch -n '__fish_seen_subcommand_from {}' -f -a '{}'\n",
                         command->get_name(), names_of(commands_of(app)));
    for (const OptionWords& option : options_of(*command))
      for (const std::string& name : option.names)
        out += fmt::format(
            "complete -c airlatch -n '__fish_seen_subcommand_from {}' -{} {}{} -d '{}'\n",
            command->get_name(), name.starts_with("--") ? "l" : "s",
            name.substr(name.find_first_not_of('-')), option.value.empty() ? "" : " -r",
            quoted(option.about));
  }
  return out;
}

}  // namespace

std::string describe(const CLI::App& app, const std::string& as) {
  if (as == "man") return man(app);
  if (as == "bash") return bash(app);
  if (as == "zsh") return zsh(app);
  return fish(app);
}

}  // namespace airlatch
