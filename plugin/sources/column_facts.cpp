// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/column_facts.hpp"

#include <charconv>
#include <cmath>

#include "plugin/sources/text_cells.hpp"
#include "plugin/sources/text_times.hpp"
#include "plugin/sources/text_words.hpp"
#include "plugin/sources/units.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kMostWords = 64;

bool is_half_day(std::string_view cell) {
  const std::string name = folded(cell);
  return name == "am" || name == "pm" || name == "a m" || name == "p m";
}

// Counts the cells of one column.
class Counter {
 public:
  Counter(ColumnFacts& facts, bool inner_blanks) : facts_(facts), inner_blanks_(inner_blanks) {
    facts_.forms = kAllForms;
  }
  void add(std::string_view cell) {
    cell = trimmed_cell(cell);
    if (is_missing(cell)) {
      filled_before_ = false;
      counting_ &= cell.empty() && facts_.cells == 0;
      return;
    }
    ++facts_.cells;
    facts_.runs_on += filled_before_ ? 1 : 0;
    filled_before_ = true;
    count(cell);
    facts_.counts_rows = counting_ && facts_.numbers == facts_.cells && facts_.cells > 1;
  }

 private:
  void count(std::string_view cell) {
    const CellForms forms = forms_of(cell, inner_blanks_);
    if (forms.number) return number(cell, forms);
    counting_ = false;
    if (forms.forms != 0) {
      ++facts_.overloads;
    } else if (const auto moment = parse_moment(cell)) {
      ++facts_.moments;
      facts_.dates += moment->mark != 0 ? 1 : 0;
      facts_.clocks += moment->clock ? 1 : 0;
    } else if (is_half_day(cell)) {
      ++facts_.half_days;
    } else if (const std::string text = as_utf8(cell); parse_unit(text) || is_other_unit(text)) {
      ++facts_.units;
      if (facts_.unit.empty()) facts_.unit = text;
      add_word(text);
    } else {
      ++facts_.texts;
      add_word(text);
    }
  }
  void number(std::string_view cell, const CellForms& forms) {
    ++facts_.numbers;
    facts_.forms &= forms.forms;
    facts_.marked += forms.marked ? 1 : 0;
    facts_.points += cell.find('.') != std::string_view::npos ? 1 : 0;
    facts_.commas += cell.find(',') != std::string_view::npos ? 1 : 0;
    if (forms.with_unit && facts_.unit.empty())
      for (const NumberForm& form : kNumberForms)
        if (const auto value = read_value(cell, form); value && !value->unit.empty()) {
          facts_.unit = as_utf8(value->unit);
          break;
        }
    long long whole = 0;
    const auto [end, error] = std::from_chars(cell.data(), cell.data() + cell.size(), whole);
    counting_ &= error == std::errc() && end == cell.data() + cell.size() &&
                 (facts_.cells == 1 || (whole > last_ && whole - 1 == last_));
    last_ = whole;
  }
  void add_word(const std::string& text) {
    if (text != last_word_) ++facts_.changes;
    last_word_ = text;
    if (facts_.words.size() < kMostWords) facts_.words.insert(text);
  }

  ColumnFacts& facts_;
  bool inner_blanks_, filled_before_ = false, counting_ = true;
  long long last_ = 0;
  std::string last_word_;
};

}  // namespace

TableFacts column_facts(const std::vector<HeadLine>& head, const FoundTable& table) {
  TableFacts out;
  out.columns.resize(table.columns);
  std::vector<std::string_view> cells;
  std::vector<Counter> counters;
  const bool inner_blanks = table.separator != kBlanks && table.separator != ',';
  // A row may have more cells than the first: room for those, counted too.
  std::size_t widest = table.columns;
  for (const std::size_t k : table.rows) {
    split_cells(head[k].text, table.separator, cells);
    while (cells.size() > widest && trimmed_cell(cells.back()).empty()) cells.pop_back();
    widest = std::max(widest, cells.size());
  }
  out.columns.resize(widest);
  counters.reserve(widest);
  for (ColumnFacts& facts : out.columns) counters.emplace_back(facts, inner_blanks);
  for (const std::size_t k : table.rows) {
    split_cells(head[k].text, table.separator, cells);
    out.least_cells = out.rows == 0 ? cells.size() : std::min(out.least_cells, cells.size());
    ++out.rows;
    for (std::size_t c = 0; c < widest; ++c)
      counters[c].add(c < cells.size() ? cells[c] : std::string_view());
  }
  return out;
}

std::string quoted(std::string_view cell) {
  constexpr std::size_t kQuoted = 40;
  cell = trimmed_cell(cell);
  std::size_t end = std::min(cell.size(), kQuoted);
  while (end < cell.size() && end > 0 && (cell[end] & 0xC0) == 0x80) --end;  // whole letters
  return std::string(cell.substr(0, end)) + (end < cell.size() ? "..." : "");
}

}  // namespace airlatch
