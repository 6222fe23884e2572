// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/table_finder.hpp"

#include <algorithm>
#include <array>
#include <charconv>

#include "plugin/sources/text_cells.hpp"
#include "plugin/sources/text_times.hpp"
#include "plugin/sources/units.hpp"

namespace airlatch {
namespace {

constexpr std::array kSeparators = {'\t', ';', '|', ',', kBlanks, '\0'};  // 0: one column
constexpr std::size_t kMostHeader = 4;

bool is_blank(char c) { return c == ' ' || c == '\t'; }
bool is_word(char c) {
  return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
         static_cast<unsigned char>(c) >= 0x80;
}

// The end of a cell that begins at `at` with a quote: behind the closing one, or `at`: it is none.
std::size_t end_of_quoted(std::string_view line, std::size_t at) {
  std::size_t end = line.find('"', at + 1);
  while (end != std::string_view::npos && end + 1 < line.size() && line[end + 1] == '"')
    end = line.find('"', end + 2);  // two are one
  return end == std::string_view::npos ? line.size() : end + 1;
}

void split_at_blanks(std::string_view line, std::vector<std::string_view>& cells) {
  for (std::size_t at = 0; at < line.size();) {
    if (is_blank(line[at])) {
      ++at;
      continue;
    }
    std::size_t end = line[at] == '"' ? end_of_quoted(line, at) : at;
    while (end < line.size() && !is_blank(line[end])) ++end;
    cells.push_back(line.substr(at, end - at));
    at = end;
  }
}

// A row's cells by kind, those at its end that are empty left out.
struct Kinds {
  std::size_t line = 0, cells = 0;  // cells: with those that are empty
  std::vector<CellKind> kinds;
  [[nodiscard]] std::size_t measured() const {
    return static_cast<std::size_t>(std::count_if(kinds.begin(), kinds.end(), [](CellKind kind) {
      return kind == CellKind::kNumber || kind == CellKind::kMoment;
    }));
  }
};

constexpr unsigned bit(CellKind kind) { return 1U << static_cast<unsigned>(kind); }
constexpr unsigned kTextBit = bit(CellKind::kText), kEmptyBit = bit(CellKind::kEmpty);

// Rows that agree.
struct Stretch {
  std::vector<std::size_t> lines;
  std::vector<unsigned> kinds;  // of each column, as bits
  std::size_t cells = 0;

  [[nodiscard]] bool takes(const Kinds& row) const {
    if (row.measured() == 0 || row.kinds.size() > cells || row.cells > cells + 1) return false;
    // Cells that rows leave out at their end are no measured ones, but for what the first row alone
    // has (a serial number, a place).
    const bool first_alone = lines.size() == 1 && cells > row.cells + 1;
    for (std::size_t c = row.cells; c < kinds.size() && !first_alone; ++c)
      if ((kinds[c] & ~(kTextBit | kEmptyBit)) != 0) return false;
    std::size_t agree = 0;
    for (std::size_t c = 0; c < row.kinds.size(); ++c) {
      const unsigned kind = bit(row.kinds[c]), before = c < kinds.size() ? kinds[c] : 0;
      if (kind == kEmptyBit || (before & ~kEmptyBit) == 0) continue;
      // A remark may look like a number, but a name does not stand over one.
      if ((before & kTextBit) != 0 && (kind == kTextBit || lines.size() > 1)) continue;
      if ((before & kind) == 0) return false;
      ++agree;
    }
    return agree > 0;
  }
  void add(const Kinds& row) {
    if (lines.empty()) cells = row.cells;
    if (lines.size() == 1 && cells > row.cells + 1)
      for (std::size_t c = row.cells; c < kinds.size(); ++c) kinds[c] = kTextBit;
    lines.push_back(row.line);
    kinds.resize(std::max(kinds.size(), row.kinds.size()));
    for (std::size_t c = 0; c < row.kinds.size(); ++c) kinds[c] |= bit(row.kinds[c]);
  }
  // How much of a table of numbers it is.
  [[nodiscard]] double weight() const {
    double columns = 0;
    for (const unsigned kind : kinds)
      columns += (kind & kTextBit) != 0 ? -0.5 : (kind & ~kEmptyBit) != 0 ? 1 : 0;
    return columns * static_cast<double>(lines.size());
  }
};

class Finder {
 public:
  Finder(const std::vector<HeadLine>& head, char separator) : head_(head), separator_(separator) {}

  std::vector<Stretch> stretches() {
    gather();
    mask_side_preamble();
    std::vector<Stretch> out;
    for (const Kinds& row : rows_) {
      if (row.measured() == 0) {
        out.emplace_back();  // whatever it is, it ends a stretch
        continue;
      }
      if (out.empty() || (!out.back().lines.empty() && !out.back().takes(row))) out.emplace_back();
      out.back().add(row);
    }
    std::erase_if(out, [](const Stretch& stretch) { return stretch.lines.empty(); });
    return out;
  }

 private:
  void gather() {
    std::vector<std::string_view> cells;
    for (std::size_t k = 0; k < head_.size(); ++k) {
      const std::string_view line = head_[k].text;
      if (is_no_row(line, separator_)) continue;
      split_cells(line, separator_, cells);
      Kinds row{k, cells.size(), {}};
      for (const std::string_view cell : cells) row.kinds.push_back(kind_of(cell, separator_));
      while (!row.kinds.empty() && row.kinds.back() == CellKind::kEmpty) row.kinds.pop_back();
      // "Range=  10 V  10 V": no row of samples begins with a key.
      const std::string_view first = cells.empty() ? std::string_view() : trimmed_cell(cells[0]);
      if (first.ends_with('=') || (first.ends_with(':') && first.size() > 1))
        std::fill(row.kinds.begin(), row.kinds.end(), CellKind::kText);
      if (!row.kinds.empty()) rows_.push_back(std::move(row));
    }
  }
  // Some instruments write their settings beside the first samples: columns of words that are empty
  // from there on.
  void mask_side_preamble() {
    std::size_t columns = 0;
    for (const Kinds& row : rows_) columns = std::max(columns, row.kinds.size());
    for (std::size_t c = 0; c < columns; ++c) {
      std::size_t empty = 0, text = 0, all = 0;
      for (const Kinds& row : rows_) {
        if (row.kinds.size() < columns) continue;
        ++all;
        empty += row.kinds[c] == CellKind::kEmpty ? 1 : 0;
        text += row.kinds[c] == CellKind::kText ? 1 : 0;
      }
      if (empty * 2 < all || text < 2 || text * 4 < all - empty) continue;
      for (Kinds& row : rows_)
        if (row.kinds.size() == columns) row.kinds[c] = CellKind::kEmpty;
    }
  }

  const std::vector<HeadLine>& head_;
  char separator_;
  std::vector<Kinds> rows_;
};

bool agree(const Stretch& a, const Stretch& b) {
  if (a.cells != b.cells) return false;
  for (std::size_t c = 0; c < std::min(a.kinds.size(), b.kinds.size()); ++c) {
    const unsigned left = a.kinds[c] & ~kEmptyBit, right = b.kinds[c] & ~kEmptyBit;
    if (left != 0 && right != 0 && (left & right) == 0) return false;
  }
  return true;
}

// The lines right above the first row that have about as many cells.
std::vector<std::size_t> header_above(const std::vector<HeadLine>& head, std::size_t first,
                                      char separator, std::size_t columns) {
  std::vector<std::size_t> out;
  std::vector<std::string_view> cells;
  for (std::size_t k = first; k-- > 0 && out.size() < kMostHeader;) {
    if (is_no_row(head[k].text, separator)) continue;
    split_cells(head[k].text, separator, cells);
    while (!cells.empty() && trimmed_cell(cells.back()).empty()) cells.pop_back();
    const std::size_t fewest = std::max(std::min<std::size_t>(2, columns), (columns + 1) / 2);
    const std::size_t most = separator == kBlanks ? 4 * columns : columns + 1;
    if (cells.size() < fewest || cells.size() > most) {
      // Aggregates, or units of a few columns, may leave most cells empty.
      if (cells.empty() || out.size() > 1 || separator == kBlanks || cells.size() > most) break;
      split_cells(head[k].text, separator, cells);
      if (cells.size() != columns || columns < 2) break;
    }
    const bool words = std::any_of(cells.begin(), cells.end(), [&](std::string_view cell) {
      return kind_of(cell, separator) == CellKind::kText;
    });
    if (!words) break;
    out.push_back(k);
  }
  return out;
}

}  // namespace

void split_cells(std::string_view line, char separator, std::vector<std::string_view>& cells) {
  cells.clear();
  if (separator == kBlanks) return split_at_blanks(line, cells);
  if (separator == '\0') return cells.push_back(line);
  std::size_t at = 0;
  while (true) {
    // A quote may follow a blank.
    std::size_t begin = at;
    while (begin < line.size() && line[begin] == ' ' && separator != ' ') ++begin;
    const bool quoted = begin < line.size() && line[begin] == '"';
    std::size_t end = line.find(separator, quoted ? end_of_quoted(line, begin) : at);
    if (end == std::string_view::npos) end = line.size();
    cells.push_back(line.substr(at, end - at));
    if (end == line.size()) return;
    at = end + 1;
  }
}

std::string unquoted_cell(std::string_view cell) {
  std::string text(trimmed_cell(cell));
  for (std::size_t at = text.find("\"\""); at != std::string::npos; at = text.find("\"\"", at + 1))
    text.erase(at, 1);
  return text;
}

bool is_no_row(std::string_view line, char separator) {
  while (!line.empty() && is_blank(line.front())) line.remove_prefix(1);
  if (line.empty()) return true;
  const char first = line.front();
  if (first == '#' || first == '%' || first == '!' || line.starts_with("//")) return true;
  if (first == ';' && separator != ';') return true;
  return std::none_of(line.begin(), line.end(), is_word);
}

CellKind kind_of(std::string_view cell, char separator) {
  cell = trimmed_cell(cell);
  double value = 0;
  const auto [end, error] = std::from_chars(cell.data(), cell.data() + cell.size(), value);
  if (error == std::errc() && end == cell.data() + cell.size()) return CellKind::kNumber;
  if (is_missing(cell)) return CellKind::kEmpty;
  const CellForms forms = forms_of(cell, separator != kBlanks && separator != ',');
  if (forms.number || forms.forms != 0) return CellKind::kNumber;
  return parse_moment(cell) ? CellKind::kMoment : CellKind::kText;
}

std::optional<FoundTable> find_table(const std::vector<HeadLine>& head, char separator) {
  std::optional<FoundTable> found;
  double best = 0;
  for (const char candidate : kSeparators) {
    if (separator != 0 && candidate != separator) continue;
    // One column is no table where others fill the head.
    if (candidate == '\0' && found && 2 * found->rows.size() > head.size()) continue;
    // Blanks stand within cells where another mark is between them.
    if (candidate == kBlanks && found && found->separator != ',') continue;
    const auto holds = [&](const HeadLine& line) {
      return candidate == kBlanks
                 ? line.text.find_first_of(" \t") != std::string_view::npos
                 : candidate == '\0' || line.text.find(candidate) != std::string_view::npos;
    };
    if (std::none_of(head.begin(), head.end(), holds)) continue;
    const auto stretches = Finder(head, candidate).stretches();
    auto heaviest = stretches.end();
    double weight = 0;
    for (auto it = stretches.begin(); it != stretches.end(); ++it) {
      if (2 * it->weight() <= weight) continue;
      const bool headed = !header_above(head, it->lines.front(), candidate, it->cells).empty();
      if (const double own = (headed ? 2 : 1) * it->weight(); own > weight) {
        weight = own;
        heaviest = it;
      }
    }
    if (heaviest == stretches.end() || weight <= best) continue;
    best = weight;
    // A cell that cannot be read parts a table: it begins where the first of its parts does.
    auto first = heaviest;
    for (auto part = stretches.begin(); part != heaviest; ++part)
      if (agree(*part, *heaviest) &&
          (part->lines.size() > 1 ||
           !header_above(head, part->lines.front(), candidate, part->cells).empty())) {
        first = part;
        break;
      }
    found = FoundTable{.separator = candidate, .columns = first->cells, .rows = {}, .header = {}};
    for (auto part = first; part != stretches.end(); ++part)
      if (agree(*part, *heaviest))
        found->rows.insert(found->rows.end(), part->lines.begin(), part->lines.end());
    found->header = header_above(head, found->rows.front(), candidate, found->columns);
    if (separator == 0 && candidate != ',' && candidate != kBlanks &&
        heaviest->lines.size() * 4 > head.size() * 3 && heaviest->kinds.size() > 1 &&
        std::none_of(heaviest->kinds.begin(), heaviest->kinds.end(),
                     [](unsigned kinds) { return (kinds & kTextBit) != 0; }))
      break;  // nothing else can be meant
  }
  return found;
}

}  // namespace airlatch
