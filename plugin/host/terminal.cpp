// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/host/terminal.hpp"

#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <charconv>
#include <cstdlib>
#include <cstring>
#include <sstream>

namespace airlatch {
namespace {

// Code points of UTF-8, as near to columns as this text needs.
std::size_t columns(const std::string& text) {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (c & 0xc0) != 0x80; }));
}

}  // namespace

int terminal_width() {
  if (::isatty(STDOUT_FILENO) == 0) return 0;
  if (const char* set = std::getenv("COLUMNS")) {
    int width = 0;
    std::from_chars(set, set + std::strlen(set), width);  // 0: no number
    if (width > 0) return width;
  }
  winsize size = {};
  return ::ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0 ? size.ws_col : 80;
}

std::string wrapped(const std::string& text, int width) {
  if (width <= 0) return text;
  const auto most = static_cast<std::size_t>(std::max(width, 20));
  std::istringstream lines(text);
  std::string out, line;
  while (std::getline(lines, line)) {
    if (columns(line) <= most) {
      out += line + "\n";
      continue;
    }
    const std::size_t first = std::min(line.find_first_not_of(' '), line.size());
    const std::string indent(std::min<std::size_t>(first + 4, most / 2), ' ');
    std::string row = line.substr(0, first);
    bool empty = true;
    std::istringstream words(line);
    for (std::string word; words >> word; empty = false) {
      if (!empty && columns(row) + 1 + columns(word) > most) {
        out += row + "\n";
        row = indent;
        empty = true;
      }
      row += (empty ? "" : " ") + word;
    }
    out += row + "\n";
  }
  return out;
}

}  // namespace airlatch
