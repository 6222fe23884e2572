// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/number_forms.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>

#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

constexpr unsigned kPoint = 0b010101, kComma = 0b101010;  // forms with that decimal mark

bool inner_blanks(char separator) { return separator != kBlanks && separator != ','; }

class FormChooser {
 public:
  explicit FormChooser(const FormQuestion& question) : question_(question) {
    for (const ColumnFacts& facts : question.facts.columns)
      forms_.push_back(facts.numbers > 0 && facts.marked > 0 ? facts.forms : kAllForms);
  }

  std::vector<ChosenForm> choose() {
    decimal_ = question_.rig == DecimalMark::POINT   ? kPoint
               : question_.rig == DecimalMark::COMMA ? kComma
               : question_.stated == '.'             ? kPoint
               : question_.stated == ','             ? kComma
                                                     : by_columns();
    if (decimal_ == 0 && any_open()) {
      look_further();
      decimal_ = by_columns();
    }
    std::vector<ChosenForm> out;
    for (std::size_t c = 0; c < forms_.size(); ++c)
      out.push_back({form_of(c), decimal_ == 0 && question_.facts.columns[c].marked == 0});
    return out;
  }

 private:
  // Whether both marks may be decimal, and it makes a difference.
  [[nodiscard]] bool open(std::size_t c) const {
    const ColumnFacts& facts = question_.facts.columns[c];
    return facts.marked > 0 && (forms_[c] & kPoint) != 0 && (forms_[c] & kComma) != 0;
  }
  [[nodiscard]] bool any_open() const {
    for (std::size_t c = 0; c < forms_.size(); ++c)
      if (open(c)) return true;
    return false;
  }
  // What columns that leave no doubt say; 0: nothing, or both.
  [[nodiscard]] unsigned by_columns() const {
    bool point = false, comma = false;
    for (std::size_t c = 0; c < forms_.size(); ++c) {
      const ColumnFacts& facts = question_.facts.columns[c];
      if (facts.marked == 0 || forms_[c] == 0 || open(c) || only_thousands(c)) continue;
      ((forms_[c] & kPoint) != 0 ? point : comma) = true;
    }
    return point == comma ? 0 : point ? kPoint : kComma;
  }
  // Marks between thousands and no decimal mark: people mix those.
  [[nodiscard]] bool only_thousands(std::size_t c) const {
    const ColumnFacts& facts = question_.facts.columns[c];
    return (forms_[c] == 1U << 3 && facts.commas == 0) ||
           (forms_[c] == 1U << 2 && facts.points == 0);
  }
  void look_further() {
    if (!question_.walk) return;
    const bool blanks = inner_blanks(question_.table.separator);
    question_.walk([&](const Cells& cells, std::uint64_t) {
      for (std::size_t c = 0; c < std::min(cells.size(), forms_.size()); ++c)
        if (open(c))
          if (const CellForms found = forms_of(cells[c], blanks); found.number)
            if ((forms_[c] & found.forms) != 0) forms_[c] &= found.forms;
      return any_open();
    });
  }
  NumberForm form_of(std::size_t c) const {
    unsigned forms = forms_[c];
    if (forms == 0) return refuse_mixed(c);
    if ((forms & decimal_) != 0) {
      forms &= decimal_;
    } else if (open(c)) {
      // "1.234" is a point before it is anything else, unless another column parts thousands so.
      const bool has_point = (forms & 1U) != 0;
      if (has_point && !points_part_thousands()) return kNumberForms[0];
      ask(c);
    }
    return kNumberForms[std::countr_zero(forms)];
  }
  [[nodiscard]] bool points_part_thousands() const {
    for (std::size_t c = 0; c < forms_.size(); ++c)
      if (question_.facts.columns[c].marked > 0 && forms_[c] == 1U << 3) return true;
    return false;
  }
  struct Place {
    std::string place, cell;
  };
  // The first cell of a column with a mark (or, of mixed ones, the first that does not fit).
  [[nodiscard]] Place marked_cell(std::size_t c, bool mixed) const {
    Cells cells;
    unsigned so_far = kAllForms;
    for (const std::size_t k : question_.table.rows) {
      split_cells(question_.head[k].text, question_.table.separator, cells);
      if (c >= cells.size()) continue;
      const CellForms forms = forms_of(cells[c], inner_blanks(question_.table.separator));
      if (!forms.number) continue;
      so_far &= forms.forms;
      if (mixed ? so_far == 0 : forms.marked)
        return {fmt::format("line {}, column {}", question_.head[k].number, c + 1),
                quoted(cells[c])};
    }
    return {fmt::format("column {}", c + 1), ""};
  }
  [[noreturn]] void ask(std::size_t c) const {
    const Place at = marked_cell(c, false);
    throw InputError(
        ExitStatus::kUnusableData, question_.file, at.place,
        fmt::format("the {} in '{}' may be decimal or stand between thousands",
                    at.cell.find(',') != std::string::npos ? "comma" : "point", at.cell),
        "say in the rig which mark is decimal: text { decimal: COMMA } or text { decimal: POINT }");
  }
  // No one form reads all cells: the reader stops at the first that does not fit.
  [[nodiscard]] NumberForm refuse_mixed(std::size_t /*c*/) const {
    return decimal_ == kComma ? kNumberForms[1] : kNumberForms[0];
  }

  const FormQuestion& question_;
  std::vector<unsigned> forms_;
  unsigned decimal_ = 0;
};

}  // namespace

std::vector<ChosenForm> number_forms(const FormQuestion& question) {
  return FormChooser(question).choose();
}

}  // namespace airlatch
