// terminal.hpp: text for whoever reads it: wrapped on a terminal, left alone in a pipe.
//
// No colours are used, so that none has to be taken out and no meaning hangs on one.
#pragma once
#include <string>

namespace airlatch {

// Columns of the terminal on standard output (COLUMNS first); 0 where it is none.
int terminal_width();

// Lines longer than `width` columns are broken at blanks and go on with an indent; 0: as they are.
std::string wrapped(const std::string& text, int width);

}  // namespace airlatch
