// SPDX-License-Identifier: GPL-3.0-or-later
// terminal.hpp: text for the reader: wrapped on a terminal, unchanged in a pipe.
//
// No colours are used, so that none has to be removed and no meaning depends on one.
#pragma once
#include <string>

namespace airlatch {

// Columns of the terminal on standard output (COLUMNS first); 0 where it is none.
int terminal_width();

// Lines longer than `width` columns are broken at blanks and go on with an indent; 0: as they are.
std::string wrapped(const std::string& text, int width);

}  // namespace airlatch
