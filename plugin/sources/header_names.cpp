// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/header_names.hpp"

#include <algorithm>
#include <charconv>
#include <optional>

#include "plugin/sources/text_cells.hpp"
#include "plugin/sources/text_words.hpp"
#include "plugin/sources/units.hpp"

namespace airlatch {
namespace {

bool is_unit(std::string_view text) { return parse_unit(text) || is_other_unit(text); }

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t')) text.remove_suffix(1);
  return text;
}

void take_unit(ColumnName& out, std::string_view unit) {
  out.unit = trimmed(unit);
  out.unit_by = ColumnName::By::kName;
}

// The last "(...)" or "[...]" at the end.
bool take_bracket(ColumnName& out) {
  const std::string_view text = out.name;
  if (text.empty() || (text.back() != ')' && text.back() != ']')) return false;
  const char opening = text.back() == ')' ? '(' : '[';
  std::size_t open = text.size() - 1;
  for (int depth = 0; open > 0; --open) {
    if (text[open] == text.back()) ++depth;
    if (text[open] == opening && --depth == 0) break;
  }
  if (text[open] != opening) return false;
  const std::string unit(trimmed(text.substr(open + 1, text.size() - open - 2)));
  const std::string name(trimmed(text.substr(0, open)));
  if (unit.empty()) {  // "x (1) []": what stands before is the whole name
    out.name = name;
    return true;
  }
  take_unit(out, unit);
  out.name = name;
  return true;
}

// A unit behind a word or mark, which counts only where it is known.
bool take_after(ColumnName& out, std::string_view mark, bool last) {
  const std::size_t at = last ? out.name.rfind(mark) : out.name.find(mark);
  if (at == std::string::npos || at == 0) return false;
  const std::string unit(trimmed(std::string_view(out.name).substr(at + mark.size())));
  if (unit.empty() || !is_unit(unit)) return false;
  take_unit(out, unit);
  out.name = std::string(trimmed(std::string_view(out.name).substr(0, at)));
  return true;
}

// A unit as the last word of a name, which keeps it: `pressure_kpa`, `elapsed ms`, `timeMs`. Letters
// that may be anything (`feed_a`, `phase_c`) are none.
void take_suffix(ColumnName& out) {
  const std::string words = folded(out.name);
  const std::size_t blank = words.rfind(' ');
  if (blank == std::string::npos) {
    // "seconds", "millis": the name is the unit.
    if (const auto unit = parse_unit(out.name);
        unit && unit->dimension == Dimension::kTime && means(words, Meaning::kTime))
      take_unit(out, out.name);
    return;
  }
  const std::size_t mark = out.name.find_last_of("_- .");
  const std::string_view written =
      mark == std::string::npos ? std::string_view() : std::string_view(out.name).substr(mark + 1);
  const std::string last = written.empty() ? words.substr(blank + 1) : std::string(written);
  const auto unit = parse_unit(last);
  if (!unit) return;
  if (unit->dimension == Dimension::kTime) {
    if (means(words.substr(0, blank), Meaning::kTime)) take_unit(out, last);
  } else if (last.size() > 1 && last != "at" && folded(last) != "adc" && !written.empty()) {
    take_unit(out, last);
  }
}

// A header of blank-separated columns: words in brackets, or apart by one blank where columns are
// apart by more, belong to the name before them.
std::vector<std::string> join_words(std::string_view line, std::size_t columns) {
  std::vector<std::string> wide;
  for (std::size_t at = 0; at < line.size();) {
    const std::size_t gap = std::min({line.find("  ", at), line.find('\t', at), line.size()});
    if (gap > at) wide.push_back(unquoted_cell(line.substr(at, gap - at)));
    at = line.find_first_not_of(" \t", gap);
    if (at == std::string_view::npos) break;
  }
  std::erase(wide, "");
  if (wide.size() == columns) return wide;
  std::vector<std::string_view> cells;
  split_cells(line, kBlanks, cells);
  std::vector<std::string> out;
  for (const std::string_view cell : cells) {
    const bool joins = cell.front() == '(' || cell.front() == '[';
    if (joins && !out.empty() && cells.size() > columns)
      out.back() += " " + std::string(cell);
    else
      out.emplace_back(unquoted_cell(cell));
  }
  return out;
}

class HeaderReader {
 public:
  HeaderReader(const std::vector<HeadLine>& head, const FoundTable& table,
               const std::vector<bool>& unnamed)
      : head_(head), table_(table), unnamed_(unnamed) {}

  Header read() {
    choose_rows();
    Header out;
    out.columns.resize(std::max(table_.columns, unnamed_.size()));
    // A line of fewer words than columns, none of them a time, belongs to the preamble.
    if (names_) {
      const auto cells = spread(named_cells(head_[*names_].text));
      if (cells.size() < unnamed_.size() && !has_time(cells)) names_.reset();
    }
    // Nor do words before a blank line, where a marked line nearer to the rows names the columns.
    if (names_ && is_apart(*names_) && names_of_comments(out, *names_ + 1)) {
      names_.reset();
    } else if (names_) {
      const auto cells = spread(named_cells(head_[*names_].text));
      out.line = head_[*names_].text;
      out.named = cells.size();
      if (out.columns.size() < cells.size()) out.columns.resize(cells.size());
      for (std::size_t c = 0; c < cells.size(); ++c) out.columns[c] = split_name(cells[c]);
    } else {
      names_of_comments(out, 0);
    }
    if (units_) {
      out.second = spread(named_cells(head_[*units_].text));
      for (std::size_t c = 0; c < std::min(out.columns.size(), out.second.size()); ++c)
        if (!out.second[c].empty() && out.columns[c].unit.empty() && !is_number(out.second[c])) {
          out.columns[c].unit = bare_unit(out.second[c]);
          out.columns[c].unit_by = ColumnName::By::kRow;
        }
    }
    return out;
  }

 private:
  static std::string bare_unit(const std::string& cell) {
    std::string_view text = cell;
    if (text.size() > 2 && ((text.front() == '(' && text.back() == ')') ||
                            (text.front() == '[' && text.back() == ']')))
      text = text.substr(1, text.size() - 2);
    return std::string(trimmed(text));
  }
  static bool is_number(const std::string& cell) {
    double value = 0;
    const char* const to = cell.data() + cell.size();
    return !cell.empty() && std::from_chars(cell.data(), to, value).ptr == to;
  }
  [[nodiscard]] std::vector<std::string> cells_of(std::string_view line) const {
    if (table_.separator == kBlanks) return join_words(line, table_.columns);
    std::vector<std::string_view> cells;
    split_cells(line, table_.separator, cells);
    std::vector<std::string> out;
    for (const std::string_view cell : cells) out.push_back(as_utf8(unquoted_cell(cell)));
    while (!out.empty() && out.back().empty()) out.pop_back();
    return out;
  }
  // Of a row that may begin with a key, which is no name.
  [[nodiscard]] std::vector<std::string> named_cells(std::string_view line) const {
    auto cells = cells_of(line);
    if (!key_of(cells).empty()) cells[0].clear();
    return cells;
  }
  // Names over their columns: where there are fewer, those that a name is never given to have none.
  [[nodiscard]] std::vector<std::string> spread(const std::vector<std::string>& cells) const {
    const auto without =
        static_cast<std::size_t>(std::count(unnamed_.begin(), unnamed_.end(), true));
    if (cells.size() + without != unnamed_.size() || without == 0) return cells;
    std::vector<std::string> out;
    std::size_t next = 0;
    for (const bool none : unnamed_) out.push_back(none ? std::string() : cells[next++]);
    return out;
  }
  static bool has_time(const std::vector<std::string>& cells) {
    return std::any_of(cells.begin(), cells.end(), [](const std::string& cell) {
      return means(folded(split_name(cell).name), Meaning::kTime) ||
             means(folded(cell), Meaning::kTime) || means(folded(cell), Meaning::kDate);
    });
  }
  // Units, and beside them numbers or words that are no names.
  static bool only_units(const std::vector<std::string>& cells) {
    std::size_t units = 0, others = 0;
    for (const std::string& cell : cells) {
      if (cell.empty() || is_number(cell)) continue;
      const std::string name = folded(cell);
      if (is_unit(bare_unit(cell)) || name == "sequence" || name == "ts" || name == "rn")
        ++units;
      else
        ++others;
    }
    return units > 0 && others * 2 <= units;
  }
  static bool only_statistics(const std::vector<std::string>& cells) {
    return std::all_of(cells.begin(), cells.end(), [](const std::string& cell) {
      return cell.empty() || means(folded(cell), Meaning::kStatistic) || folded(cell) == "smp";
    });
  }
  void choose_rows() {
    for (const std::size_t line : table_.header) {
      const auto cells = cells_of(head_[line].text);
      if (only_statistics(cells)) continue;
      if (const std::string key = key_of(cells); !key.empty()) {
        take_keyed(key, line);
        continue;
      }
      if (!names_ && !units_ && only_units(cells)) {
        units_ = line;
      } else if (!names_) {
        if (!plausible(cells)) break;
        names_ = line;
      } else if (!units_ && only_units(cells)) {
        units_ = line;
        break;
      } else if (!has_time(cells_of(head_[*names_].text)) && has_time(cells)) {
        names_ = line;
      } else {
        break;
      }
    }
  }
  // Something of it is a word, its numbers count channels, and it states nothing of the recording.
  static bool plausible(const std::vector<std::string>& cells) {
    const auto is_word = [](const std::string& cell) { return !cell.empty() && !is_number(cell); };
    const auto counts = [](const std::string& cell) {
      return !is_number(cell) || cell.size() <= 3;
    };
    return std::any_of(cells.begin(), cells.end(), is_word) &&
           std::all_of(cells.begin(), cells.end(), counts) &&
           !(cells.size() == 2 && stated_in(folded(cells[0])));
  }
  // "ChannelTitle=" before the names, "UnitName=" before the units.
  static std::string key_of(const std::vector<std::string>& cells) {
    const auto is_key = [](const std::string& cell) {
      return cell.size() > 1 && (cell.back() == '=' || cell.back() == ':');
    };
    if (cells.empty() || std::count_if(cells.begin(), cells.end(), is_key) != 1) return {};
    return is_key(cells[0]) ? folded(cells[0]) : std::string();
  }
  void take_keyed(const std::string& key, std::size_t line) {
    const auto holds = [&](std::initializer_list<const char*> words) {
      return std::any_of(words.begin(), words.end(),
                         [&](const char* word) { return key.find(word) != std::string::npos; });
    };
    if (holds({"unit", "einheit", "unid", "jednostk", "eenheid"})) {
      if (!units_) units_ = line;
    } else if (holds({"title", "name", "channel", "kanal", "canal", "label", "signal"})) {
      if (!names_) names_ = line;
    }
  }
  // "# time, volt", "; Channels (2/2): CH1, CH2": the nearest comment that has as many names.
  bool names_of_comments(Header& out, std::size_t from) {
    const std::size_t first = table_.rows.front();
    for (std::size_t k = first; k-- > from;) {
      std::string_view line = head_[k].text;
      if (!is_no_row(line, '\0')) continue;
      while (!line.empty() &&
             std::string_view("#;%!/* \t").find(line.front()) != std::string_view::npos)
        line.remove_prefix(1);
      const bool list = folded(line.substr(0, 9)) == "channels";
      if (list) line = line.substr(std::min(line.find(':') + 1, line.size()));
      std::vector<std::string> cells;
      if (list) {
        std::vector<std::string_view> parts;
        split_cells(line, ',', parts);
        for (const std::string_view part : parts) cells.push_back(unquoted_cell(part));
        for (std::string& cell : cells)
          if (const std::size_t at = cell.find(":");
              at != std::string::npos && at + 1 < cell.size() && cell[at + 1] != ' ')
            cell = cell.substr(0, at);
        if (cells.size() + 1 == out.columns.size()) cells.insert(cells.begin(), std::string());
      } else {
        cells = cells_of(line);
        if (cells.size() != out.columns.size() || !has_time(cells)) {
          // "#" may head the column that counts the rows.
          cells = spread(cells_of(head_[k].text));
          if (cells.empty() || cells[0] != "#") continue;
        }
      }
      if (cells.size() != out.columns.size()) continue;
      for (std::size_t c = 0; c < cells.size(); ++c) out.columns[c] = split_name(cells[c]);
      return true;
    }
    return false;
  }
  // No time among its words, and a blank line between them and the rows.
  [[nodiscard]] bool is_apart(std::size_t names) const {
    if (has_time(spread(named_cells(head_[names].text)))) return false;
    for (std::size_t k = names + 1; k < table_.rows.front(); ++k)
      if (trimmed(head_[k].text).empty()) return true;
    return false;
  }

  const std::vector<HeadLine>& head_;
  const FoundTable& table_;
  const std::vector<bool>& unnamed_;
  std::optional<std::size_t> names_, units_;  // lines
};

}  // namespace

ColumnName split_name(std::string_view cell) {
  ColumnName out;
  out.written = as_utf8(trimmed(cell));
  out.name = out.written;
  if (take_bracket(out)) return out;
  for (const char* const mark : {", ", " / ", " in ", " - ", "/"})
    if (take_after(out, mark, true)) return out;
  take_suffix(out);
  return out;
}

Header header_of(const std::vector<HeadLine>& head, const FoundTable& table,
                 const std::vector<bool>& unnamed) {
  return HeaderReader(head, table, unnamed).read();
}

}  // namespace airlatch
