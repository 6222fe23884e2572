// SPDX-License-Identifier: GPL-3.0-or-later
// fixed_columns.hpp: tables whose columns stand at fixed places, with blanks where a cell is empty.
//
// In    the first lines of a text.
// Out   its rows with a mark between the columns, so that they read as any other table.
// How   where rows of numbers differ in how many words they have, columns are the stretches of
//       places between which no row has a letter; each word belongs to the one it overlaps most.
#pragma once
#include <string>
#include <string_view>
#include <vector>

#include "plugin/sources/table_finder.hpp"

namespace airlatch {

class FixedColumns {
 public:
  // False: the rows are no such table; words apart by blanks are enough, or nothing fits.
  bool learn(const std::vector<HeadLine>& head);
  [[nodiscard]] std::string translate(std::string_view line) const;

 private:
  struct Stretch {
    std::size_t from, to;  // places: [from, to)
  };
  [[nodiscard]] std::size_t column_of(std::size_t from, std::size_t to) const;
  std::vector<Stretch> columns_;
};

}  // namespace airlatch
