// SPDX-License-Identifier: GPL-3.0-or-later
// row_values.hpp: cells of one column as values in the role unit, and what was met among them.
//
// How   the column's unit, or the one that stands in the cell or beside it (a meter that ranges by
//       itself writes another prefix from row to row), which must measure the same.
#pragma once
#include <optional>
#include <string>
#include <string_view>

#include "plugin/sources/table_layout.hpp"
#include "plugin/sources/units.hpp"

namespace airlatch {

class RowValues {
 public:
  explicit RowValues(const TableColumn& column);
  // `unit`: of a cell of its own; empty: none. Nothing: why() says why.
  std::optional<float> read(std::string_view cell, std::string_view unit = {});
  [[nodiscard]] const std::string& why() const { return why_; }
  [[nodiscard]] const std::string& mend() const { return mend_; }
  [[nodiscard]] std::uint64_t missing() const { return missing_; }
  [[nodiscard]] std::uint64_t overloads() const { return overloads_; }

 private:
  [[nodiscard]] std::optional<float> read_plain(std::string_view cell) const;
  bool take_unit(std::string_view written);
  std::optional<CellValue> settle_form(std::string_view cell);

  NumberForm form_;
  bool form_open_;
  std::optional<Unit> unit_ = {};  // of the column
  std::string now_written_ = {};   // the unit of the last cell, where cells have their own
  std::optional<Unit> now_ = {};
  std::string why_ = {}, mend_ = {};
  std::uint64_t missing_ = 0, overloads_ = 0;
};

// The channel that a column is.
SourceChannel channel_of(const TableColumn& column, std::size_t number);

}  // namespace airlatch
