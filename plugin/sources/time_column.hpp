// SPDX-License-Identifier: GPL-3.0-or-later
// time_column.hpp: which column of a table is its time, in which unit, its dates in which order.
//
// In    names, units and cells of the columns, what the preamble states, what the rig says.
// Out   the layout's time. Of several times the one that parts the rows best; the others agree or
//       are told.
// How   a unit is told by the name, its brackets, a row of units, a comment, a stated rate, another
//       column of dates, or the size of a count since 1970. What differs between two of these, or
//       is told by none, throws: a bare count by ones or in fractions is seconds, as it always was.
#pragma once
#include <map>
#include <string>
#include <vector>

#include "plugin/sources/column_facts.hpp"
#include "plugin/sources/header_names.hpp"
#include "plugin/sources/stated_facts.hpp"
#include "plugin/sources/table_layout.hpp"

namespace airlatch {

struct TimeQuestion {
  const std::string& file;
  const std::vector<HeadLine>& head;
  bool whole = false;  // the head is the whole file
  const FoundTable& table;
  const TableFacts& facts;
  const std::vector<ColumnName>& names;
  bool headed = false;
  const StatedFacts& stated;
  const OpenOptions& options;
  TableLayout& layout;
  WalkRows walk;
};

class TimeChooser {
 public:
  explicit TimeChooser(const TimeQuestion& question) : question_(question) {}
  // Sets the layout's time, where there is one. Throws InputError.
  void choose();
  // Columns that are a time too, and why they are left out.
  [[nodiscard]] const std::map<std::size_t, std::string>& others() const { return others_; }
  // Columns of numbers that only rise from row to row, from 0.
  [[nodiscard]] std::vector<std::size_t> rising() const;
  [[noreturn]] void refuse_without_time() const;
  // What was chosen and why, in words; empty: nothing.
  [[nodiscard]] const std::string& told() const { return told_; }

 private:
  struct Candidate {
    TimeColumn column = {};
    bool named = false;
    std::vector<double> values = {};  // as counted, or seconds
    double rises = 0;                 // share of the steps
    bool falls = false;
    std::int64_t resolution_ns = 1;
  };
  struct Hint {
    std::int64_t unit_ns;
    std::string by;
  };
  [[noreturn]] void refuse(const std::string& place, const std::string& what,
                           const std::string& mend) const;
  [[nodiscard]] std::string place(std::size_t column) const;
  [[nodiscard]] std::string first_cell(std::size_t column) const;
  [[nodiscard]] std::string shown(std::size_t column) const;
  [[nodiscard]] std::optional<std::size_t> asked_column() const;
  void add_moments();
  void add_counts();
  [[nodiscard]] bool is_count(std::size_t column, bool& named) const;
  [[nodiscard]] std::vector<double> numbers(std::size_t column) const;
  static void look_at(Candidate& candidate);
  [[nodiscard]] Candidate* best();
  void settle_order(TimeColumn& column);
  void settle_unit(Candidate& candidate);
  [[nodiscard]] std::vector<Hint> hints(const Candidate& candidate) const;
  [[nodiscard]] std::optional<Hint> by_rate(const Candidate& candidate, double period_s,
                                            const std::string& by) const;
  [[nodiscard]] std::optional<Hint> by_size(const Candidate& candidate) const;
  [[nodiscard]] std::optional<Hint> by_steps(const Candidate& candidate) const;
  [[nodiscard]] bool has_many_rows() const;
  [[nodiscard]] bool has_decimals(std::size_t column, std::size_t least) const;
  [[noreturn]] void ask_unit(const Candidate& candidate, const std::string& why) const;
  void tell(const Candidate& candidate, const std::string& by);

  const TimeQuestion question_;
  std::vector<Candidate> candidates_;
  std::map<std::size_t, std::string> others_;
  std::string told_;
};

}  // namespace airlatch
