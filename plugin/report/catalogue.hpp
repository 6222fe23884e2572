// SPDX-License-Identifier: GPL-3.0-or-later
// catalogue.hpp: the catalogues that the build compiled, and a message's place in one.
#pragma once
#include <span>
#include <string_view>

namespace airlatch {

struct Catalogue {
  const char* language = nullptr;             // "de"
  std::span<const unsigned char> bytes = {};  // as msgfmt writes them
};
// Made by the build from po/.
std::span<const Catalogue> catalogues();

// The translation of a message; empty where the catalogue has none.
// How   a table of messages in the order of their bytes, and one of translations (GNU gettext
//       manual, "The Format of GNU MO Files").
std::string_view translation(const Catalogue& catalogue, std::string_view message);

}  // namespace airlatch
