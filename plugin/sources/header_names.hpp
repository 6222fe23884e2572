// SPDX-License-Identifier: GPL-3.0-or-later
// header_names.hpp: names and units of columns, from the rows above a table.
#pragma once
#include <string>
#include <string_view>
#include <vector>

#include "plugin/sources/table_finder.hpp"

namespace airlatch {

struct ColumnName {
  std::string name = {}, unit = {};  // unit: as written, known or not; empty: none is given
  std::string written = {};
  enum class By { kNone, kName, kRow } unit_by = By::kNone;
};

// "line (kPa)", "line [kPa]", "line, kPa", "line / kPa", "line in kPa", "line_kpa", "elapsed ms".
// `cell`: without quotes.
ColumnName split_name(std::string_view cell);

struct Header {
  std::vector<ColumnName> columns = {};
  std::string line = {};  // the row of names as it stands; empty: there is none
  std::size_t named = 0;  // columns that it has a cell for
  // Of a header row that holds numbers where others hold units ("Start", "Increment").
  std::vector<std::string> second = {};
};
Header header_of(const std::vector<HeadLine>& head, const FoundTable& table,
                 const std::vector<bool>& unnamed);

}  // namespace airlatch
