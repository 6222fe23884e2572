// SPDX-License-Identifier: GPL-3.0-or-later
// table_layout.hpp: what the columns of a table mean, told from its head, from what its preamble
// states, and from what the rig says.
//
// In    the first lines of a text; the rig's text { }, --rate.
// Out   the time's column, form and unit; a name, a unit and a form of number for each channel;
//       what was understood, in words.
// How   every question has one place here and is settled by all the evidence there is; what stays
//       open, or is told in two ways that differ, throws an InputError that names the rig's line
//       which settles it.
#pragma once
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "plugin/sources/source.hpp"
#include "plugin/sources/table_finder.hpp"
#include "plugin/sources/text_cells.hpp"
#include "plugin/sources/text_times.hpp"

namespace airlatch {

struct TableColumn {
  std::string name = {}, unit = {};
  std::string written = {};  // the header's cell
  std::string repeats = {};  // the name, where one before it has it too and this was counted
  NumberForm form = {};
  bool form_open = false;  // no number of the head had a mark: the first that has one tells
  // Where the cells are units of another column, or units stand in cells: the values' dimension.
  std::optional<std::size_t> units = {};
  bool sparse = false;  // most rows are another channel's: an empty cell is no missing sample
};

struct TimeColumn {
  enum class Form { kNone, kCount, kMoment } form = Form::kNone;
  std::size_t column = 0;
  std::optional<std::size_t> clock = {}, half_day = {};  // columns of their own
  std::int64_t unit_ns = kSecond_ns;                     // kCount
  NumberForm number = {};
  std::int64_t origin_ns = 0;  // kCount: 1970, counted as the column counts
  DateOrder order = DateOrder::YEAR_MONTH_DAY;
};

struct TableLayout {
  char separator = ',';
  std::uint64_t first_line = 1;  // of the first row
  std::size_t columns = 0;       // of a row
  std::size_t least = 0;         // cells that each row has
  std::string header = {};       // a line that is left out where it comes again
  TimeColumn time = {};
  std::optional<SampleClock> clock = {};  // without a time column
  // Columns of values: each a channel; in long tables one, whose rows name the channel.
  std::vector<std::size_t> values = {};
  std::vector<TableColumn> about = {};  // of all columns
  std::optional<std::size_t> channel_column = {};
  // Rows that print the same time: the first ones, and so many otherwise.
  std::size_t first_repeats = 1, usual_repeats = 1;
  std::vector<std::string> understood = {};
};

// The rest of the file's rows, for what the head leaves open: calls with each row's cells and line
// until false is returned. Nothing for a pipe.
using Cells = std::vector<std::string_view>;
using WalkRows = std::function<void(const std::function<bool(const Cells&, std::uint64_t)>&)>;

struct TableHead {
  std::string file = {};  // for messages
  std::vector<HeadLine> lines = {};
  bool whole = false;  // the file ends there
};

// Throws InputError.
TableLayout layout_of(const TableHead& head, const OpenOptions& options,
                      const std::function<WalkRows(const TableLayout&)>& walk);

}  // namespace airlatch
