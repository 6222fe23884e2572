// SPDX-License-Identifier: GPL-3.0-or-later
// html_parts.hpp: what a page is made of: text, rows, tables, pictures.
#pragma once
#include <string>
#include <vector>

namespace airlatch {

// Text as a page shows it: shown_lines, and the marks of HTML as its entities.
std::string escaped(const std::string& text);
// A user's own words, on one line: isolated, so that right-to-left text turns nothing around it.
std::string typed(const std::string& text);

// Below, cells, rows and captions are HTML already.
std::string row(const std::vector<std::string>& cells, const char* tag = "td");
std::string table(const char* label, const std::string& rows, const char* css_class = "");
std::string figure(const std::string& svg, const std::string& alt, const std::string& caption);

}  // namespace airlatch
