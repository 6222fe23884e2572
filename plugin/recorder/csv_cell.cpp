// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/recorder/csv_cell.hpp"

#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {
constexpr std::size_t kLongest = 500;  // bytes of a cell
}

std::string csv_cell(std::string_view text) {
  std::string shown = shown_text(text, kLongest);
  shown.erase(shown.find_last_not_of(' ') + 1);
  shown.erase(0, shown.find_first_not_of(' '));
  if (!shown.empty() && std::string_view("=+-@").find(shown.front()) != std::string_view::npos)
    shown.insert(shown.begin(), '\'');
  if (shown.find_first_of(",;\"") == std::string::npos) return shown;
  std::string cell = "\"";
  for (const char c : shown) cell += c == '"' ? std::string("\"\"") : std::string(1, c);
  return cell + "\"";
}

}  // namespace airlatch
