// SPDX-License-Identifier: GPL-3.0-or-later
// nearest_word.hpp: the known word that a mistyped one most likely stands for.
//
// In    what was typed, and the words that would have been understood.
// Out   the word at the least distance, the first of several; empty where none is near.
// How   letters left out, put in, replaced, or exchanged with their neighbour count 1 each (optimal
//       string alignment: Wagner and Fischer 1974, exchanges as of Lowrance and Wagner 1975).
// Cost  for each word, the product of the lengths.
#pragma once
#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace airlatch {

constexpr std::size_t kFarthest = 2;  // typing errors in one word (common practice, no source)

std::size_t edit_distance(std::string_view a, std::string_view b);

// A word that shares no letter with `typed` is never near, however short both are.
std::string nearest_word(std::string_view typed, const std::vector<std::string>& words);

}  // namespace airlatch
