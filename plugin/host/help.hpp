// SPDX-License-Identifier: GPL-3.0-or-later
// help.hpp: `airlatch help [COMMAND]`, and the error for a command line that was not understood.
#pragma once
#include <string>

#include "plugin/host/commands.hpp"

namespace CLI {
class App;
class ParseError;
}  // namespace CLI

namespace airlatch {

// Prints what `--help` prints, for the program, a command or a command's verb.
// Throws InputError (kUsage) where there is no such command.
Run add_help(Arguments app, const CLI::App& program);

// What is wrong with a command line, and how to correct it, on one line: the nearest command or
// option where one was mistyped.
std::string misuse(const CLI::App& program, const CLI::ParseError& error);

}  // namespace airlatch
