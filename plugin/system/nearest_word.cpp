// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/system/nearest_word.hpp"

#include <algorithm>
#include <utility>

namespace airlatch {

std::size_t edit_distance(std::string_view a, std::string_view b) {
  // Rows of the table of distances between beginnings of a and beginnings of b: the last three.
  std::vector<std::size_t> before_last(b.size() + 1), last(b.size() + 1), row(b.size() + 1);
  for (std::size_t j = 0; j <= b.size(); ++j) row[j] = j;
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::swap(before_last, last);
    std::swap(last, row);
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t replaced = last[j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1);
      row[j] = std::min({last[j] + 1, row[j - 1] + 1, replaced});
      if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1])
        row[j] = std::min(row[j], before_last[j - 2] + 1);
    }
  }
  return row[b.size()];
}

std::string nearest_word(std::string_view typed, const std::vector<std::string>& words) {
  std::string nearest;
  std::size_t least = kFarthest + 1;
  for (const std::string& word : words) {
    const std::size_t distance = edit_distance(typed, word);
    const bool nothing_shared = distance >= std::max(typed.size(), word.size());
    if (distance >= least || nothing_shared) continue;
    least = distance;
    nearest = word;
  }
  return nearest;
}

}  // namespace airlatch
