// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/table_layout.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <map>
#include <set>

#include "plugin/sources/column_facts.hpp"
#include "plugin/sources/header_names.hpp"
#include "plugin/sources/number_forms.hpp"
#include "plugin/sources/row_times.hpp"
#include "plugin/sources/sample_rate.hpp"
#include "plugin/sources/stated_facts.hpp"
#include "plugin/sources/text_words.hpp"
#include "plugin/sources/time_column.hpp"
#include "plugin/sources/units.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kMostColumns = 1024;
constexpr std::size_t kFewestSparse = 8;  // rows that show that a column is read in turn

std::string lower_case(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return text;
}

class LayoutFinder {
 public:
  LayoutFinder(const TableHead& head, const OpenOptions& options,
               const std::function<WalkRows(const TableLayout&)>& walk)
      : head_(head), options_(options), walk_(walk) {}

  TableLayout find() {
    find_rows();
    gather_facts();
    name_columns();
    choose_forms();
    TimeChooser chooser({.file = head_.file,
                         .head = head_.lines,
                         .whole = head_.whole,
                         .table = table_,
                         .facts = facts_,
                         .names = header_.columns,
                         .headed = !header_.line.empty(),
                         .stated = stated_,
                         .options = options_,
                         .layout = out_,
                         .walk = walk_(out_)});
    const bool counted = take_sequence();
    if (!counted) chooser.choose();
    roles_ = chooser.others();
    chooser_told_ = chooser.told();
    if (out_.time.form == TimeColumn::Form::kNone && !out_.clock) take_rate(chooser);
    choose_values();
    find_sparse();
    find_repeats();
    describe();
    return std::move(out_);
  }

 private:
  [[noreturn]] void refuse(const std::string& place, const std::string& what,
                           const std::string& mend) const {
    throw InputError(ExitStatus::kUnusableData, head_.file, place, what, mend);
  }
  [[nodiscard]] std::string line_of(std::size_t k) const {
    return fmt::format("line {}", head_.lines[k].number);
  }

  void find_rows() {
    const bool any = std::any_of(head_.lines.begin(), head_.lines.end(),
                                 [](const HeadLine& line) { return !is_no_row(line.text, '\0'); });
    if (!any) refuse("", "it holds no rows", "record it again");
    const auto table = find_table(head_.lines, stated_separator());
    if (!table) refuse_without_rows();
    table_ = *table;
    out_.separator = table_.separator;
    out_.first_line = head_.lines[table_.rows.front()].number;
    if (table_.columns > kMostColumns)
      refuse(line_of(table_.rows.front()), fmt::format("{} columns", table_.columns),
             fmt::format("at most {} can be read: keep the channels you need", kMostColumns));
    stated_ = stated_facts(head_.lines, table_.rows.front());
  }

  // "sep=;", as spreadsheets write it.
  [[nodiscard]] char stated_separator() const {
    for (std::size_t k = 0; k < std::min<std::size_t>(2, head_.lines.size()); ++k) {
      const std::string_view line = trimmed_cell(head_.lines[k].text);
      if (line.size() == 5 && folded(line.substr(0, 3)) == "sep" && line[3] == '=') return line[4];
    }
    return 0;
  }

  // A header and no samples, or no table at all.
  [[noreturn]] void refuse_without_rows() const {
    const auto row = std::find_if(head_.lines.begin(), head_.lines.end(),
                                  [](const HeadLine& line) { return !is_no_row(line.text, '\0'); });
    const std::string place = fmt::format("line {}", row->number);
    std::vector<std::string_view> cells;
    split_cells(row->text, row->text.find(';') != std::string_view::npos ? ';' : ',', cells);
    if (means(folded(split_name(cells[0]).name), Meaning::kTime) && cells.size() > 1) {
      const auto next = std::find_if(std::next(row), head_.lines.end(), [](const HeadLine& line) {
        return !is_no_row(line.text, '\0');
      });
      if (next == head_.lines.end()) refuse("", "it holds no samples", "record it again");
      split_cells(next->text, next->text.find(';') != std::string_view::npos ? ';' : ',', cells);
      refuse(fmt::format("line {}, column 1", next->number),
             fmt::format("'{}' is not a time", quoted(cells[0])),
             "seconds, clock times and dates can be read");
    }
    refuse(place, fmt::format("'{}' is no row of numbers, and none follows", quoted(row->text)),
           "export the samples as rows of numbers with a time");
  }

  void gather_facts() {
    facts_ = column_facts(head_.lines, table_);
    out_.columns = std::max(table_.columns, facts_.columns.size());
    out_.least = facts_.least_cells;
    facts_.columns.resize(out_.columns);
    out_.about.resize(out_.columns);
  }

  void name_columns() {
    // Trailing separators make columns without a cell: they have no name either.
    std::size_t used = out_.columns;
    while (used > 1 && facts_.columns[used - 1].cells == 0) --used;
    std::vector<bool> unnamed(used);
    for (std::size_t c = 0; c < used; ++c)
      unnamed[c] = facts_.columns[c].only_units() || facts_.columns[c].only_half_days();
    header_ = header_of(head_.lines, table_, unnamed);
    // "Date Time  U  I" over a date and a clock time apart by a blank.
    const std::size_t named = named_columns();
    for (std::size_t c = 0; c + 1 < used && named < used; ++c)
      if (table_.separator == kBlanks && facts_.columns[c].only_dates() &&
          facts_.columns[c + 1].only_clocks() && !unnamed[c + 1]) {
        unnamed[c + 1] = true;
        header_ = header_of(head_.lines, table_, unnamed);
        break;
      }
    if (header_.columns.size() > out_.columns) grow(header_.columns.size());
    header_.columns.resize(out_.columns);
    if (!header_.line.empty())
      for (std::size_t c = header_.named; c < facts_.columns.size(); ++c)
        if (facts_.columns[c].numbers > 0 && c < used && !unnamed[c]) refuse_nameless(c);
    out_.header = header_.line;
  }
  // More cells of numbers than names: each row would be read one column off.
  [[noreturn]] void refuse_nameless(std::size_t column) const {
    std::size_t row = table_.rows.front();
    Cells cells;
    for (const std::size_t k : table_.rows) {
      split_cells(head_.lines[k].text, table_.separator, cells);
      if (cells.size() > column && !trimmed_cell(cells[column]).empty()) {
        row = k;
        break;
      }
    }
    refuse(line_of(row),
           fmt::format("{} cells, but the table has {} columns", cells.size(), header_.named),
           "name each column, or leave the header out; decimal commas need another separator than "
           "commas");
  }
  [[nodiscard]] std::size_t named_columns() const {
    std::size_t n = header_.columns.size();
    while (n > 0 && header_.columns[n - 1].name.empty()) --n;
    return n;
  }
  void grow(std::size_t columns) {
    out_.columns = columns;
    facts_.columns.resize(columns);
    out_.about.resize(columns);
  }

  void choose_forms() {
    const char stated = stated_.decimal.value_or('\0');
    const auto forms = number_forms({.file = head_.file,
                                     .head = head_.lines,
                                     .table = table_,
                                     .facts = facts_,
                                     .rig = options_.text.decimal,
                                     .stated = stated,
                                     .walk = walk_(out_)});
    for (std::size_t c = 0; c < std::min(out_.columns, forms.size()); ++c) {
      out_.about[c].form = forms[c].form;
      out_.about[c].form_open = forms[c].open;
    }
  }

  // "X,CH1,Start,Increment" over "Sequence,Volt,-3.5e-03,5e-06": the rows are counted.
  bool take_sequence() {
    std::optional<double> start, step;
    for (std::size_t c = 0; c < std::min(header_.columns.size(), header_.second.size()); ++c) {
      const std::string name = folded(header_.columns[c].name);
      const std::string& cell = header_.second[c];
      double value = 0;
      if (cell.empty() || std::from_chars(cell.data(), cell.data() + cell.size(), value).ptr !=
                              cell.data() + cell.size())
        continue;
      if (name == "start" || name == "x0") start = value;
      if (name == "increment" || name == "dt" || name == "step") step = value;
      header_.columns[c].name.clear();
    }
    if (!step || !(*step > 0)) return false;
    take_period(*step, start.value_or(0));
    told_.push_back(
        fmt::format("times: row by row from {:.6g} s in steps of {:.6g} s (the header's "
                    "start and increment); the first column counts the rows",
                    start.value_or(0), *step));
    left_out_.insert(0);
    return true;
  }

  void take_period(double period_s, double start_s) {
    const double rate = 1 / period_s;
    const bool whole = rate >= 1 && std::abs(rate - std::round(rate)) < 1e-6 * rate;
    out_.clock = clock_of_rate(whole ? std::round(rate) : rate, head_.file, "its sampling");
    if (!whole) {
      const auto exact_ns = std::llround(period_s * 1e12);
      if (exact_ns > 0) *out_.clock = SampleClock{0, exact_ns, 1000};
    }
    // A start beyond what times can say is none: events count from the first sample.
    if (std::abs(start_s) < 1e9) out_.clock->start_ns = std::llround(start_s * 1e9);
  }

  void take_rate(const TimeChooser& chooser) {
    if (options_.rate_hz != 0) {
      out_.clock = clock_of_rate(options_.rate_hz, head_.file, "--rate");
      told_.push_back(fmt::format("times: {:g} samples a second (--rate)", options_.rate_hz));
      for (const std::size_t c : chooser.rising())
        told_.push_back(
            fmt::format("column {} only rises from row to row: if it is the time, say "
                        "so in the rig (text {{ time_column: \"{}\" }})",
                        c + 1, c + 1));
      return;
    }
    if (stated_.period_s) {
      take_period(*stated_.period_s, 0);
      told_.push_back(fmt::format("times: one row each {:.6g} s, as its preamble says ('{}')",
                                  *stated_.period_s, quoted(stated_.period_line)));
      return;
    }
    chooser.refuse_without_time();
  }

  void choose_values() {
    for (std::size_t c = 0; c < out_.columns; ++c)
      if (is_channel(c)) out_.values.push_back(c);
    find_unit_columns();
    find_channel_column();
    if (out_.values.empty())
      refuse(line_of(table_.rows.front()), "there is a time column and nothing else",
             "record at least one channel");
    for (const std::size_t c : out_.values) name_channel(c);
    tell_apart();
  }

  bool is_channel(std::size_t c) {
    const ColumnFacts& facts = facts_.columns[c];
    const ColumnName& name = header_.columns[c];
    const TimeColumn& time = out_.time;
    if (time.form != TimeColumn::Form::kNone &&
        (c == time.column || time.clock == c || time.half_day == c))
      return false;
    if (left_out_.contains(c)) return false;
    if (const auto other = roles_.find(c); other != roles_.end()) {
      told_.push_back(
          fmt::format("column {} ({}) is left out: {}", c + 1, shown(c), other->second));
      return false;
    }
    if (facts.cells == 0) return !name.name.empty() || !name.unit.empty();
    constexpr std::size_t kSomeRows = 10;
    if (facts.cells == 1 && facts_.rows > kSomeRows) {
      told_.push_back(
          fmt::format("column {} ({}) holds one cell and is left out", c + 1, shown(c)));
      return false;
    }
    if (facts.numbers + facts.overloads == 0 &&
        (facts.texts > 1 || facts.moments > 0 || facts.units > 0 || names_channels(c))) {
      if (facts.units != facts.cells || names_channels(c)) texts_.push_back(c);
      return false;
    }
    const bool aside = facts.cells * 2 < facts_.rows;  // settings beside the first samples
    if (facts.texts > 0 && (aside || (facts.texts * 2 > facts.cells && facts.texts > 1))) {
      texts_.push_back(c);
      return false;
    }
    if (means(folded(name.name), Meaning::kIndex) && facts.counts_rows) {
      told_.push_back(
          fmt::format("column {} ({}) only counts the rows and is left out", c + 1, shown(c)));
      return false;
    }
    return true;
  }

  [[nodiscard]] std::string shown(std::size_t c) const {
    const std::string& name = header_.columns[c].written;
    return name.empty() ? "without a name" : "'" + quoted(name) + "'";
  }

  // "a" may be a channel's name, and the ampere.
  [[nodiscard]] bool names_channels(std::size_t c) const {
    return means(folded(header_.columns[c].name), Meaning::kChannel);
  }
  // Units as cells of their own belong to the column before them.
  void find_unit_columns() {
    for (std::size_t c = 0; c < out_.columns; ++c) {
      if (!facts_.columns[c].only_units() || names_channels(c)) continue;
      const auto before =
          c == 0 ? out_.values.end() : std::find(out_.values.begin(), out_.values.end(), c - 1);
      if (before != out_.values.end()) {
        out_.about[c - 1].units = c;
      } else if (out_.values.size() == 1) {
        out_.about[out_.values[0]].units = c;
      }
    }
  }

  // One reading a row: a column of text names the channel.
  void find_channel_column() {
    if (out_.values.size() == 1)
      for (const std::size_t c : texts_) {
        const ColumnFacts& facts = facts_.columns[c];
        const std::string name = folded(header_.columns[c].name);
        const bool value_said =
            means(folded(header_.columns[out_.values[0]].name), Meaning::kValue);
        const bool said = means(name, Meaning::kChannel) && (value_said || facts.words.size() > 1);
        const bool changes = facts.words.size() > 1 && facts.changes * 2 > facts.cells;
        const bool group = facts.words.size() > 1 && facts.words.size() * 3 <= facts.cells;
        if (said || (group && value_said) || (changes && group)) {
          out_.channel_column = c;
          break;
        }
      }
    for (const std::size_t c : texts_)
      if (c != out_.channel_column)
        told_.push_back(fmt::format("column {} ({}) is text and is left out", c + 1, shown(c)));
  }

  void name_channel(std::size_t c) {
    TableColumn& column = out_.about[c];
    const ColumnName& header = header_.columns[c];
    column.name = header.name;
    column.written = header.written;
    column.unit = header.unit;
    if (column.name.empty()) {
      std::size_t number = 1;
      for (std::size_t before = 0; before < c; ++before)
        if (!(out_.time.form != TimeColumn::Form::kNone && before == out_.time.column)) ++number;
      column.name = fmt::format("CH{}", number);
    }
    if (column.unit.empty() && !facts_.columns[c].unit.empty())
      column.unit = facts_.columns[c].unit;
    if (column.units && column.unit.empty()) column.unit = facts_.columns[*column.units].unit;
  }

  // Names that only differed in what stood in brackets keep it; others of one name are counted.
  void tell_apart() {
    const auto same = [&](std::size_t a, std::size_t b) {
      return lower_case(out_.about[a].name) == lower_case(out_.about[b].name);
    };
    std::vector<std::size_t> whole;
    std::vector<std::pair<std::size_t, std::size_t>> repeated;  // column, and how often by then
    for (const std::size_t a : out_.values)
      for (const std::size_t b : out_.values)
        if (a != b && same(a, b) && out_.about[a].written != out_.about[b].written &&
            !parse_unit(out_.about[a].unit) && !is_other_unit(out_.about[a].unit))
          whole.push_back(a);
    for (const std::size_t c : whole) {
      out_.about[c].name = out_.about[c].written;
      out_.about[c].unit.clear();
    }
    for (const std::size_t a : out_.values) {
      std::size_t before = 0;
      for (const std::size_t b : out_.values) before += b < a && same(a, b) ? 1 : 0;
      if (before > 0) repeated.emplace_back(a, before + 1);
    }
    for (const auto& [c, number] : repeated) {
      out_.about[c].repeats = out_.about[c].name;
      out_.about[c].name += fmt::format(" {}", number);
    }
  }

  void find_sparse() {
    if (out_.channel_column || out_.time.form == TimeColumn::Form::kNone) return;
    for (const std::size_t c : out_.values) {
      const ColumnFacts& facts = facts_.columns[c];
      const std::size_t filled = facts.cells;
      out_.about[c].sparse = filled >= 3 && facts_.rows >= kFewestSparse &&
                             filled * 10 < facts_.rows * 8 && facts.runs_on * 10 < filled * 7;
    }
  }

  void find_repeats() {
    if (out_.time.form == TimeColumn::Form::kNone || out_.channel_column) return;
    RowTimes times(out_.time);
    Cells cells;
    std::vector<std::size_t> groups;
    std::optional<std::int64_t> last_ns;
    for (const std::size_t k : table_.rows) {
      split_cells(head_.lines[k].text, table_.separator, cells);
      const auto time = times.read(cells);
      if (!time) continue;
      if (last_ns == time->ns)
        ++groups.back();
      else
        groups.push_back(1);
      last_ns = time->ns;
    }
    if (groups.size() < 2) return;
    out_.first_repeats = groups.front();
    out_.usual_repeats = *std::max_element(std::next(groups.begin()), groups.end());
  }

  void describe() {
    std::vector<std::string>& out = out_.understood;
    if (!chooser_told_.empty()) out.push_back(chooser_told_);
    for (const std::string& line : told_) out.push_back(line);
    if (out_.channel_column)
      out.push_back(
          fmt::format("one reading a row: column {} names its channel, column {} holds "
                      "the value",
                      *out_.channel_column + 1, out_.values[0] + 1));
  }

  const TableHead& head_;
  const OpenOptions& options_;
  const std::function<WalkRows(const TableLayout&)>& walk_;
  FoundTable table_;
  StatedFacts stated_;
  TableFacts facts_;
  Header header_;
  std::map<std::size_t, std::string> roles_;  // columns that are neither time nor channel, and why
  std::set<std::size_t> left_out_;
  std::vector<std::size_t> texts_;
  std::string chooser_told_;
  std::vector<std::string> told_;
  TableLayout out_;
};

}  // namespace

TableLayout layout_of(const TableHead& head, const OpenOptions& options,
                      const std::function<WalkRows(const TableLayout&)>& walk) {
  return LayoutFinder(head, options, walk).find();
}

}  // namespace airlatch
