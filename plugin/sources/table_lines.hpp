// SPDX-License-Identifier: GPL-3.0-or-later
// table_lines.hpp: a file's lines as rows of a table: as they stand; of JSON lines, each object's
// values apart by tabs under one header of their keys; of fixed columns, apart by tabs too.
//
// In    a text file or pipe. JSON: flat objects ({"voltage":12.1,"ts":"..."}), and the shapes of the
//       pipe ({"channel":...,"time_s":...,"value":...}, blocks of "values" with "period_s").
// Out   lines and their numbers in the file.
#pragma once
#include <cstdint>
#include <deque>
#include <string>
#include <string_view>
#include <vector>

#include "plugin/sources/fixed_columns.hpp"
#include "plugin/sources/line_reader.hpp"
#include "plugin/sources/table_layout.hpp"

namespace airlatch {

// Objects as rows.
class JsonRows {
 public:
  // Takes the keys of an object, in the order in which they come. False: it is none.
  bool learn(std::string_view line);
  [[nodiscard]] std::string header() const;
  // Rows of an object, each with the values of the keys learnt; a text that is no object gives
  // itself, so that it is refused where it stands.
  void translate(std::string_view line, std::deque<std::string>& rows) const;

 private:
  std::vector<std::string> keys_;
};

class TableLines {
 public:
  TableLines(const std::string& path, bool hashed) : reader_(path, hashed), path_(path) {}

  // The first lines: up to 256 KiB or 2000 of a file; of a pipe, that is not to be kept waiting, two
  // where they are a header and a row that leave no question, else up to 200. They are not consumed.
  TableHead head(std::uint32_t skip_lines);
  // To before the line of this number.
  void skip_to(std::uint64_t line);
  bool next(std::string_view& line);
  // Walks the rows of the file again, in another reader; of a pipe it walks none.
  [[nodiscard]] WalkRows walk(const TableLayout& layout) const;

  [[nodiscard]] LineReader& reader() { return reader_; }
  [[nodiscard]] const LineReader& reader() const { return reader_; }
  [[nodiscard]] bool as_they_stand() const { return !json_ && !fixed_; }
  [[nodiscard]] std::uint64_t number() const { return reader_.number(); }

 private:
  void take_fixed(TableHead& head);
  void refuse_long(std::uint64_t line);
  LineReader reader_;
  std::string path_, head_text_;
  bool json_ = false, fixed_ = false;
  FixedColumns columns_;
  JsonRows rows_;
  std::deque<std::string> translated_, head_lines_;
  std::string line_;
};

}  // namespace airlatch
