// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/fixed_columns.hpp"

#include <algorithm>

namespace airlatch {
namespace {

constexpr std::size_t kFewestRows = 5, kMostPlaces = 4096;

bool is_digit(char c) { return c >= '0' && c <= '9'; }

// A comma that is no decimal mark is between cells.
bool has_separating_comma(std::string_view line) {
  for (std::size_t at = line.find(','); at != std::string_view::npos; at = line.find(',', at + 1))
    if (at == 0 || at + 1 == line.size() || !is_digit(line[at - 1]) || !is_digit(line[at + 1]))
      return true;
  return false;
}

bool begins_as_number(std::string_view line) {
  const std::size_t at = line.find_first_not_of(' ');
  if (at == std::string_view::npos) return false;
  const char c = line[at], next = at + 1 < line.size() ? line[at + 1] : ' ';
  return is_digit(c) || ((c == '-' || c == '+' || c == '.') && (is_digit(next) || next == '.'));
}

// Calls with the ends of each word.
void each_word(std::string_view line, const auto& take) {
  for (std::size_t at = line.find_first_not_of(' '); at < line.size();
       at = line.find_first_not_of(' ', at)) {
    const std::size_t end = std::min(line.find(' ', at), line.size());
    take(at, end);
    at = end;
  }
}

std::size_t words_of(std::string_view line) {
  std::size_t n = 0;
  each_word(line, [&](std::size_t, std::size_t) { ++n; });
  return n;
}

}  // namespace

bool FixedColumns::learn(const std::vector<HeadLine>& head) {
  std::vector<std::string_view> rows;
  std::size_t fewest = kMostPlaces, most = 0, longest = 0;
  for (const HeadLine& line : head) {
    if (line.text.find_first_of("\t;|\"") != std::string_view::npos) return false;
    if (!begins_as_number(line.text) || line.text.size() > kMostPlaces) continue;
    if (has_separating_comma(line.text)) return false;
    rows.push_back(line.text);
    fewest = std::min(fewest, words_of(line.text));
    most = std::max(most, words_of(line.text));
    longest = std::max(longest, line.text.size());
  }
  if (rows.size() < kFewestRows || fewest == most || fewest < 2) return false;
  std::vector<bool> taken(longest + 1);
  for (const std::string_view row : rows)
    for (std::size_t k = 0; k < row.size(); ++k)
      if (row[k] != ' ') taken[k] = true;
  for (std::size_t at = 0; at < longest;) {
    if (!taken[at]) {
      ++at;
      continue;
    }
    const std::size_t from = at;
    while (taken[at]) ++at;
    columns_.push_back({from, at});
  }
  return columns_.size() == most;
}

std::size_t FixedColumns::column_of(std::size_t from, std::size_t to) const {
  std::size_t best = 0, overlap = 0, nearest = kMostPlaces * 2;
  for (std::size_t c = 0; c < columns_.size(); ++c) {
    const Stretch& column = columns_[c];
    const std::size_t begin = std::max(from, column.from), end = std::min(to, column.to);
    const std::size_t shared = end > begin ? end - begin : 0;
    const std::size_t middle = from + to, own = column.from + column.to;
    const std::size_t away = middle > own ? middle - own : own - middle;
    if (shared > overlap || (overlap == 0 && shared == 0 && away < nearest)) {
      best = c;
      overlap = shared;
      nearest = away;
    }
  }
  return best;
}

std::string FixedColumns::translate(std::string_view line) const {
  std::vector<std::string> cells(columns_.size());
  each_word(line, [&](std::size_t from, std::size_t to) {
    std::string& cell = cells[column_of(from, to)];
    cell += (cell.empty() ? "" : " ") + std::string(line.substr(from, to - from));
  });
  std::string out;
  for (std::size_t c = 0; c < cells.size(); ++c) out += (c > 0 ? "\t" : "") + cells[c];
  return out;
}

}  // namespace airlatch
