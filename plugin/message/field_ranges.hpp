// SPDX-License-Identifier: GPL-3.0-or-later
// field_ranges.hpp: what each field of a rig, a plan and a job may hold: one table, a row a field.
//
// In    a message of fields.hpp.
// Out   nothing, or FieldError for the first field that holds something else.
// How   walks the rows of fields.hpp. A number, a text or a repeated field has a row in the table
//       (field_ranges_test fails for one that has none); an enum's values are those it has names
//       for. A report has no rows: its numbers are finite, its enums' values have names.
#pragma once
#include <span>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace airlatch {

struct FieldRange {
  std::string_view message, field;  // "Rig.Channel", "scale"
  // Of a number its least and most; of a text its bytes, of a repeated field its entries. An enum
  // whose least is 1 must be given.
  double least, most;
  std::string_view mend;
};
std::span<const FieldRange> field_ranges();

// The fields from the whole message to the one that is meant, each with its index.
using FieldPath = std::vector<std::pair<std::string_view, std::size_t>>;

class FieldError : public std::runtime_error {
 public:
  FieldError(FieldPath path, const std::string& what, std::string mend)
      : std::runtime_error(what), path_(std::move(path)), mend_(std::move(mend)) {}
  [[nodiscard]] const FieldPath& path() const { return path_; }
  [[nodiscard]] const std::string& mend() const { return mend_; }

 private:
  FieldPath path_;
  std::string mend_;
};

// For Rig, Plan, Job and Report.
template <typename Message>
void check_fields(const Message& message);

}  // namespace airlatch
