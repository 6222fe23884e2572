// SPDX-License-Identifier: GPL-3.0-or-later
// delimited_text.hpp: captures as rows of numbers (.csv, .tsv and the like).
//
// In    rows separated by `,` `;` or tab; decimal point, or decimal comma where the separator is
//       not `,`; comment lines starting with `#` (and `;` where that is not the separator); an
//       optional header with names and units in brackets; a time column time, t, time_s or
//       timestamp first (seconds, another unit in brackets, or ISO 8601), or --rate.
// Out   one channel a column, values converted from the written unit to the role unit (V, A, kPa,
//       degC). Empty cells and `nan` are missing samples (NaN); `inf`, `OL` are overloads
//       (infinity). A row that makes no sense ends the table: what stands before it is handed out,
//       and damage() says where and why; without a row before it, it is refused. A last row without
//       its line end may be cut within its last number: it is left out, and remarks() say so.
// How   rows that keep to an even period within their printed resolution get a SampleClock, so that
//       the same numbers decode alike from text and from an evenly sampled file; from the first row
//       that does not keep to it, times are handed out as written.
// Cost  constant memory: one read buffer and one stretch of rows.
#pragma once
#include <memory>
#include <string>

#include "plugin/sources/source.hpp"

namespace airlatch {

// "-" is stdin. Throws InputError with file, line and column.
std::unique_ptr<Source> open_delimited_text(const std::string& path, const OpenOptions& options);

}  // namespace airlatch
