// SPDX-License-Identifier: GPL-3.0-or-later
// describe.hpp: manual pages and shell completions, from the options as they are declared.
#pragma once
#include <string>

namespace CLI {
class App;
}

namespace airlatch {

// `as`: "man", "bash", "zsh" or "fish". The manual page holds all commands.
std::string describe(const CLI::App& app, const std::string& as);

}  // namespace airlatch
