// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/host/tell.hpp"

#include <fmt/format.h>

#include <cstdio>

#include "plugin/host/output.hpp"
#include "plugin/host/terminal.hpp"
#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kLongest = 580;  // as long as an InputError's

std::string line(const char* before, std::string_view text) {
  return before + shown_text(text, kLongest) + "\n";
}

}  // namespace

void tell(std::string_view text) {
  Output("-").write(wrapped(shown_lines(text), terminal_width()));
}

std::string note_line(std::string_view text) { return line("airlatch: note: ", text); }

std::string error_line(std::string_view text) { return line("airlatch: ", text); }

// In one write, so that lines of processes side by side do not mix.
void tell_note(std::string_view text) { std::fputs(note_line(text).c_str(), stderr); }

void tell_error(std::string_view text) { std::fputs(error_line(text).c_str(), stderr); }

ExitStatus tell_damages(const std::vector<std::string>& damages) {
  if (damages.empty()) return ExitStatus::kDone;
  if (damages.size() == 1) {
    tell_error(damages[0]);
    return ExitStatus::kUnusableData;
  }
  for (const std::string& damage : damages) tell_note(damage);
  tell_error(
      fmt::format("{} captures end early; what is sound in them was judged", damages.size()));
  return ExitStatus::kUnusableData;
}

}  // namespace airlatch
