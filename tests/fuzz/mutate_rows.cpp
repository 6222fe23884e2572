// SPDX-License-Identifier: GPL-3.0-or-later
// Delimited text: its lines and cells, one change at a time.
#include <algorithm>
#include <vector>

#include "tests/fuzz/mutator.hpp"

namespace airlatch::fuzz {
namespace {

using Words = std::vector<std::string>;

Words split(const std::string& text, char at) {
  Words out(1);
  for (const char c : text)
    if (c == at)
      out.emplace_back();
    else
      out.back() += c;
  return out;
}

std::string joined(const Words& words, char with) {
  std::string out;
  for (std::size_t k = 0; k < words.size(); ++k) {
    if (k > 0) out += with;
    out += words[k];
  }
  return out;
}

char separator_of(const std::string& line) {
  for (const char c : {'\t', ';', ','})
    if (line.find(c) != std::string::npos) return c;
  return ',';
}

// What a header, a time, a cell can be.
const char* const kWords[] = {"time",
                              "t",
                              "time_s",
                              "timestamp",
                              "motor_a",
                              "MOTOR_A",
                              "line_kpa",
                              "feed_a_v",
                              "[kPa]",
                              "[mV]",
                              "(psi)",
                              "(inHg)",
                              "[degF]",
                              "[MA]",
                              "nan",
                              "inf",
                              "-inf",
                              "OL",
                              "",
                              " ",
                              "\"",
                              "\"a,b\"",
                              "#",
                              ";",
                              "-",
                              "+",
                              ".",
                              ",",
                              "1e",
                              "1e999",
                              "-1e-999",
                              "0x10",
                              "\r",
                              "\xef\xbb\xbf",
                              "\xff",
                              "2024-02-30T25:61:61",
                              "1969-12-31 23:59:59.999999999",
                              "2024-06-01T12:00:00Z",
                              "2024-06-01 12:00:00,5",
                              "9999-12-31T23:59:59",
                              "0000-00-00T00:00:00",
                              "2024-06-01T12:00:00+99:99",
                              "1,5",
                              "1.5",
                              "-0",
                              "00000000000000000000000000001"};

std::string cell(Random& random) {
  return random.one_in(2) ? std::string(random.of(kWords)) : hostile_digits(random);
}

void change_cell(std::string& line, Random& random) {
  const char separator = separator_of(line);
  Words cells = split(line, separator);
  const std::size_t at = random.below(cells.size());
  switch (random.below(6)) {
    case 0:
      cells[at] += random.of(kWords);
      break;
    case 1:
      cells.erase(cells.begin() + static_cast<std::ptrdiff_t>(at));
      break;
    case 2:
      cells.insert(cells.begin() + static_cast<std::ptrdiff_t>(at), cell(random));
      break;
    case 3:
      change_bytes(cells[at]);
      break;
    default:
      cells[at] = cell(random);
  }
  line = joined(cells, separator);
}

// The same change in every line: a separator, a decimal mark, a column.
void change_all(Words& lines, Random& random) {
  static constexpr char kMarks[] = {',', ';', '\t', '.', '|', ' '};
  const char from = separator_of(lines.front()), to = random.of(kMarks);
  const bool marks = random.one_in(2);
  const std::string column = cell(random);
  const bool more = random.one_in(3);
  for (std::string& line : lines)
    if (more)
      line += from + column;
    else
      std::replace(line.begin(), line.end(), marks ? '.' : from, to);
}

}  // namespace

void mutate_rows(std::string& bytes, Random& random) {
  Words lines = split(bytes, '\n');
  const std::size_t at = random.below(lines.size());
  const auto here = lines.begin() + static_cast<std::ptrdiff_t>(at);
  switch (random.below(12)) {
    case 0:
      lines.erase(here);
      break;
    case 1: {
      const std::string again = *here;
      lines.insert(here, random.below(64), again);
      break;
    }
    case 2:
      std::swap(*here, random.of(lines));
      break;
    case 3:
      change_all(lines, random);
      break;
    case 4:
      change_bytes(*here);
      break;
    case 5:
      lines.insert(here, random.of(kWords) + std::string(random.of(kWords)));
      break;
    case 6:
      *here += '\r';
      break;
    case 7:
      change_cell(lines.front(), random);
      break;
    default:
      change_cell(*here, random);
  }
  bytes = joined(lines, '\n');
}

}  // namespace airlatch::fuzz
