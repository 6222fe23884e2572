// SPDX-License-Identifier: GPL-3.0-or-later
// row_times.hpp: the times of rows, one after the other.
//
// In    each row's cells; which column is the time, and how it is written.
// Out   nanoseconds from the file's own origin. A clock time without a date that begins again is
//       the next day's (or hour's, where it has no hours).
#pragma once
#include <optional>

#include "plugin/sources/table_layout.hpp"

namespace airlatch {

class RowTimes {
 public:
  explicit RowTimes(const TimeColumn& column) : column_(column) {}
  std::optional<ParsedTime> read(const Cells& cells);

 private:
  std::optional<ParsedTime> read_moment(const Cells& cells);

  TimeColumn column_;
  std::int64_t turns_ns_ = 0;  // of a clock without a date
  std::optional<std::int64_t> last_ns_ = {};
};

}  // namespace airlatch
