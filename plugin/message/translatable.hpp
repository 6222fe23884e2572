// SPDX-License-Identifier: GPL-3.0-or-later
// translatable.hpp: marks a text that is shown in the customer's language, where it stands in a table.
#pragma once

namespace airlatch {

// Found by xgettext; Language::say translates it where it is shown.
constexpr const char* translatable(const char* english) { return english; }

}  // namespace airlatch
