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

// In one write, so that lines of processes side by side do not mix.
void to_stderr(const char* before, std::string_view text) {
  const std::string line = before + shown_text(text, kLongest) + "\n";
  std::fputs(line.c_str(), stderr);
}

}  // namespace

void tell(std::string_view text) {
  Output("-").write(wrapped(shown_lines(text), terminal_width()));
}

void tell_note(std::string_view text) { to_stderr("airlatch: note: ", text); }

void tell_error(std::string_view text) { to_stderr("airlatch: ", text); }

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
