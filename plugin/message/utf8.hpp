// SPDX-License-Identifier: GPL-3.0-or-later
// utf8.hpp: checks whether bytes are UTF-8 (Unicode 15, table 3-7), and repairs those that are not.
//
// A message's strings are UTF-8 by its format; names of channels and files come from anywhere.
#pragma once
#include <string>
#include <string_view>

namespace airlatch {

[[nodiscard]] bool is_utf8(std::string_view bytes);
// Each longest piece that begins a character and does not end it becomes U+FFFD, as in the JSON
// lines.
[[nodiscard]] std::string repaired_utf8(std::string_view bytes);

}  // namespace airlatch
