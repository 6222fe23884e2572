// SPDX-License-Identifier: GPL-3.0-or-later
// plain_rows.hpp: reads rows of plain numbers, as nearly all rows of a table are, many at once.
//
// In    delimited text; how its columns lie.
// Out   a float a column and row, in the channel's unit; the rows' times in ns.
// How   separators and line ends are found 64 characters at a time, each cell is turned into a
//       number in one register, and those of some rows are divided column by column. Whole numbers
//       below 2^53 over a power of ten are exact before one rounding (Clinger, How to read floating
//       point numbers accurately, 1990), so these are the numbers that parse_value gives. A cell is
//       [-]digits[.digits], 15 characters without the sign; a row with any other cell, or whose
//       time does not rise, is left to be looked at cell by cell.
// Cost  about 4.5 ns a cell.
#pragma once
#include <cstddef>
#include <cstdint>
#include <span>
#include <string_view>

namespace airlatch {

struct PlainLayout {
  char separator = ',';
  bool comma = false;  // a decimal comma may stand for the point
  bool time = false;   // the first cell is a time in seconds
};

struct PlainColumn {
  double scale = 1, offset = 0;
  float* to = nullptr;  // room for `most` values
};

struct PlainRows {
  std::size_t rows = 0, bytes = 0;  // taken from the text's start, line ends included
  std::int64_t last_ns = 0;         // of the last row
  std::int64_t step_ns = 0;         // from each row to the next; 0: not always the same
  std::int64_t resolution_ns = 0;   // of the digits as written, the finest; 0: no row
};

// Takes rows until `most`, the last line end, or the first that is not plain. Times, where there
// are any, rise from beyond `after_ns`. REQUIRES: at least one column; kTextSlack characters before
// and behind the text may be read, whatever they are. `narrow` does without SIMD registers (for
// tests).
constexpr std::size_t kTextSlack = 64;
PlainRows take_plain_rows(std::string_view text, const PlainLayout& layout,
                          std::span<const PlainColumn> columns, std::int64_t* times_ns,
                          std::int64_t after_ns, std::size_t most, bool narrow = false);

}  // namespace airlatch
