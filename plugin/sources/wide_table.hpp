// SPDX-License-Identifier: GPL-3.0-or-later
// wide_table.hpp: a table with a column a channel as a source.
//
// In    rows, and what their columns mean.
// Out   one channel a column of values, in the role unit. Empty cells are missing samples, but in a
//       column that most rows leave empty (one meter among several, read in turn): there each value
//       has its own time. A row that makes no sense ends the table: what stands before it is handed
//       out, and damage() says where and why. Rows of statistics or words behind the last sample are
//       left out and told.
// How   rows that keep to an even period within their printed resolution get a SampleClock, so that
//       the same numbers decode alike from text and from an evenly sampled file; from the first row
//       that does not keep to it, times are handed out as written. Rows that print the same time lie
//       evenly within its resolution, or up to the next.
// Cost  constant memory: one read buffer and one stretch of rows.
#pragma once
#include <memory>

#include "plugin/sources/source.hpp"
#include "plugin/sources/table_layout.hpp"
#include "plugin/sources/table_lines.hpp"

namespace airlatch {

std::unique_ptr<Source> open_wide_table(std::unique_ptr<TableLines> lines, TableLayout layout);

}  // namespace airlatch
