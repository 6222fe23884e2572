// SPDX-License-Identifier: GPL-3.0-or-later
// column_facts.hpp: what the cells of each column are, counted over the head of a table.
#pragma once
#include <cstddef>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "plugin/sources/table_finder.hpp"

namespace airlatch {

struct ColumnFacts {
  std::size_t cells = 0;  // that are not empty
  std::size_t numbers = 0, overloads = 0, moments = 0, units = 0, half_days = 0, texts = 0;
  std::size_t dates = 0, clocks = 0;   // of the moments: they have one
  unsigned forms = 0;                  // of number, that all cells allow
  std::size_t marked = 0;              // cells whose marks say something
  std::size_t points = 0, commas = 0;  // cells that hold one
  std::size_t runs_on = 0;             // cells right below another of the column
  std::size_t changes = 0;             // of text, from row to row
  bool counts_rows = false;            // whole numbers, each one more than the one before
  std::string unit = {};               // in its cells: the first
  std::set<std::string> words = {};    // of text, a few

  [[nodiscard]] bool only_units() const { return units > 0 && units == cells; }
  [[nodiscard]] bool only_half_days() const { return half_days > 0 && half_days == cells; }
  [[nodiscard]] bool only_moments() const { return moments > 0 && moments == cells; }
  [[nodiscard]] bool only_dates() const { return only_moments() && dates == cells && clocks == 0; }
  [[nodiscard]] bool only_clocks() const { return only_moments() && clocks == cells && dates == 0; }
  [[nodiscard]] bool only_numbers() const { return numbers > 0 && numbers == cells; }
};

struct TableFacts {
  std::vector<ColumnFacts> columns;
  std::size_t rows = 0;
  std::size_t least_cells = 0;  // of a row
};

TableFacts column_facts(const std::vector<HeadLine>& head, const FoundTable& table);

// A cell as messages quote it: its beginning, whole letters.
std::string quoted(std::string_view cell);

}  // namespace airlatch
