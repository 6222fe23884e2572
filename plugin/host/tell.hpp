// SPDX-License-Identifier: GPL-3.0-or-later
// tell.hpp: what the program says to people; no other code of it writes to stdout or stderr but
// Screen, which draws, and Output, which writes for programs.
//
// All goes through the door of shown_text: nothing from a file steers the terminal.
#pragma once
#include <string>
#include <string_view>
#include <vector>

#include "plugin/system/input_error.hpp"

namespace airlatch {

// On stdout, wrapped where that is a terminal. Throws as Output does.
void tell(std::string_view text);

// The line that says TEXT on stderr, for those who write it themselves: at most 600 bytes.
[[nodiscard]] std::string note_line(std::string_view text);
[[nodiscard]] std::string error_line(std::string_view text);

// One line on stderr, "airlatch: note: TEXT": what is worth knowing and stops nothing.
void tell_note(std::string_view text);

// The one line on stderr that says why the exit status is not 0: "airlatch: TEXT".
void tell_error(std::string_view text);

// The damages of captures that end early, in one error line, those of several in notes before it.
// The exit status: kDone where there are none.
ExitStatus tell_damages(const std::vector<std::string>& damages);

}  // namespace airlatch
