// SPDX-License-Identifier: GPL-3.0-or-later
// table_finder.hpp: where in a text the table of samples stands.
//
// In    the first lines of a file: preambles of any kind, a header of names, units or neither, rows.
// Out   what separates the cells, the first row, the rows above it that name its columns.
// How   for each separator, rows are gathered into stretches whose cells agree in number and kind
//       (number, date or time, text); the stretch with the most numbers is the table. What stands
//       right above it, with about as many cells, is its header.
// Cost  some microseconds a line of the head, once.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace airlatch {

inline constexpr char kBlanks = ' ';  // as a separator: one or more of them

// Cells of a line; a quoted one may hold the separator.
void split_cells(std::string_view line, char separator, std::vector<std::string_view>& cells);
// Without quotes; two of them within it are one.
std::string unquoted_cell(std::string_view cell);
// Nothing that anyone would read as a row: no letter and no digit, or a comment.
bool is_no_row(std::string_view line, char separator);

struct HeadLine {
  std::uint64_t number = 0;  // counted from 1
  std::string_view text = {};
};

enum class CellKind : std::uint8_t { kEmpty, kNumber, kMoment, kText };
CellKind kind_of(std::string_view cell, char separator);

struct FoundTable {
  char separator = ',';
  std::size_t columns = 0;
  std::vector<std::size_t> rows = {};    // lines of the head that are rows, or should be
  std::vector<std::size_t> header = {};  // lines above the first row, the nearest first
};
// Nothing where no line holds a number. `separator`: what the file itself says (sep=;), else 0.
std::optional<FoundTable> find_table(const std::vector<HeadLine>& head, char separator);

}  // namespace airlatch
