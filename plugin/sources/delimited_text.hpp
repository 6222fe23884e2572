// SPDX-License-Identifier: GPL-3.0-or-later
// delimited_text.hpp: captures as rows of text (.csv, .tsv, .txt, JSON lines and the like).
//
// In    what meters, loggers, instruments and programs write: preambles, headers in several
//       languages, units, times and dates in the forms people use, one column or one row a channel.
// Out   one channel a column (or a name), values converted from the written unit to the role unit
//       (V, A, kPa, degC), and in understood() what was taken for what.
// How   text_input makes the bytes lines of UTF-8; table_finder finds the rows among them;
//       table_layout tells what the columns mean, with time_column, number_forms, header_names,
//       stated_facts and column_facts; wide_table and long_table read the rows by that.
// Cost  constant memory: one read buffer and one stretch of rows.
#pragma once
#include <memory>
#include <string>

#include "plugin/sources/source.hpp"

namespace airlatch {

// "-" is stdin. Throws InputError with file, line and column.
std::unique_ptr<Source> open_delimited_text(const std::string& path, const OpenOptions& options);

}  // namespace airlatch
