// SPDX-License-Identifier: GPL-3.0-or-later
// text_cells.hpp: cells of delimited text as numbers, with what meters write instead of one.
//
// In    a cell as it stands in the file, quoted or not, and how its column writes numbers.
// Out   a value with the unit behind it, if there is one: NaN where a sample is missing (empty, NA,
//       NaN, null, None, -), infinity where it is an overload (OL, OVLD, ----, 9.9E+37 and more as
//       SCPI has it, `1 .`). Nothing for other text.
#pragma once
#include <cstdint>
#include <optional>
#include <string_view>

namespace airlatch {

std::string_view trimmed_cell(std::string_view cell);  // blanks and one pair of quotes removed

// How numbers are written: the decimal mark, and what stands between thousands: 0: nothing;
// ' ': a blank, an apostrophe, or a blank that does not break.
struct NumberForm {
  char decimal = '.';
  char thousands = 0;
  friend bool operator==(const NumberForm&, const NumberForm&) = default;
};

struct CellValue {
  double value = 0;
  std::string_view unit = {};  // known to units.hpp
};
std::optional<CellValue> read_value(std::string_view cell, const NumberForm& form);
// The same of a cell without a unit.
std::optional<double> parse_value(std::string_view cell, bool comma);

// The forms that a number's marks allow, as bits, counted as kNumberForms has them. Overloads and
// missing values allow all; what is neither, none.
inline constexpr NumberForm kNumberForms[] = {{'.', 0},   {',', 0},   {'.', ','},
                                              {',', '.'}, {'.', ' '}, {',', ' '}};
inline constexpr unsigned kAllForms = 0x3f;
struct CellForms {
  unsigned forms = 0;
  bool number = false;  // digits, not an overload or missing
  bool marked = false;  // the marks say something: it is not a mere whole number
  bool with_unit = false;
};
// `inner_blanks`: blanks may stand within a cell, so that they may part thousands.
CellForms forms_of(std::string_view cell, bool inner_blanks);
// Missing: empty, or a word or mark for it.
bool is_missing(std::string_view cell);

}  // namespace airlatch
