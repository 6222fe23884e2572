// SPDX-License-Identifier: GPL-3.0-or-later
// long_table.hpp: a table with one reading a row, which names its channel, as a source.
//
// In    rows in the order of time, or one channel after the other; what their columns mean.
// Out   a channel for each name, each value with its own time: another channel's row is no gap.
//       Values that print the same time lie evenly up to the channel's next.
// How   a file is walked once for the names. Where its rows are in order of channels rather than of
//       time, all values are held.
// Cost  constant memory where rows are in order of time; else 12 bytes a value.
#pragma once
#include <memory>

#include "plugin/sources/source.hpp"
#include "plugin/sources/table_layout.hpp"
#include "plugin/sources/table_lines.hpp"

namespace airlatch {

std::unique_ptr<Source> open_long_table(std::unique_ptr<TableLines> lines, TableLayout layout,
                                        const TableHead& head);

}  // namespace airlatch
