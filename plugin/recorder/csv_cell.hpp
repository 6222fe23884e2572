// SPDX-License-Identifier: GPL-3.0-or-later
// csv_cell.hpp: a text as a cell of the delimited text that this program writes.
#pragma once
#include <string>
#include <string_view>

namespace airlatch {

// The shown text, without blanks around it; where a spreadsheet would execute it (it begins with
// = + - or @), behind an apostrophe. Quoted where needed (RFC 4180). What is read back from the
// cell and written again is the same.
[[nodiscard]] std::string csv_cell(std::string_view text);

}  // namespace airlatch
