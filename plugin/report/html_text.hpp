// SPDX-License-Identifier: GPL-3.0-or-later
// html_text.hpp: text and pictures as HTML.
#pragma once
#include <string>

#include "plugin/report/document.hpp"

namespace airlatch {

// Text as a page shows it: shown_lines, and the marks of HTML as its entities.
std::string escaped(const std::string& text);
// A user's own words on one line, isolated, so that right-to-left text turns nothing around them.
std::string html_of(const Words& words);

// Lines that stretch with the page and text that does not: no picture is too small to read on a phone.
std::string html_of(const Picture& picture);
// The bar's drawing alone; its words stand beside it.
std::string html_of(const Gauge& gauge, const Gauge::Bar& bar);

}  // namespace airlatch
