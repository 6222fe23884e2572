// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/row_values.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <bit>
#include <charconv>
#include <cmath>

#include "plugin/sources/column_facts.hpp"
#include "plugin/sources/text_words.hpp"

namespace airlatch {
namespace {

std::optional<Unit> measured_unit(const std::string& text) {
  auto unit = parse_unit(text);
  if (unit && unit->dimension == Dimension::kTime) unit.reset();
  return unit;
}

bool says_absolute(const std::string& name) {
  const std::string words = " " + folded(name) + " ";
  for (const char* const word : {" absolute ", " abs ", " absolut ", " absoluto ", " absoluta ",
                                 " assoluta ", " absolue ", " absolu "})
    if (words.find(word) != std::string::npos) return true;
  return false;
}

}  // namespace

RowValues::RowValues(const TableColumn& column)
    : form_(column.form), form_open_(column.form_open), unit_(measured_unit(column.unit)) {}

// Whole numbers until now: the first with a mark tells which is decimal, unless it may be either.
std::optional<CellValue> RowValues::settle_form(std::string_view cell) {
  const CellForms forms = forms_of(cell, false);
  if (!forms.number || !forms.marked) return std::nullopt;
  form_open_ = false;
  if ((forms.forms & 1U) != 0) return read_value(cell, form_);
  if (std::popcount(forms.forms) > 1) {
    why_ = "may be a decimal fraction, or have a mark between thousands";
    mend_ =
        "say in the rig which mark is decimal: text { decimal: COMMA } or text { decimal: POINT }";
    return std::nullopt;
  }
  form_ = kNumberForms[std::countr_zero(forms.forms)];
  return read_value(cell, form_);
}

bool RowValues::take_unit(std::string_view written) {
  if (written == now_written_) return true;
  const std::string text = as_utf8(written);
  const auto unit = measured_unit(text);
  if (unit && unit_ && unit->dimension != unit_->dimension) {
    why_ = fmt::format("is in {}, while the column's first values measure something else",
                       quoted(text));
    mend_ = "keep one quantity a channel: cut the file where the meter was switched over";
    return false;
  }
  now_written_ = written;
  now_ = unit;
  return true;
}

// Nearly all cells: a number in the column's form and unit, and nothing else.
std::optional<float> RowValues::read_plain(std::string_view cell) const {
  cell = trimmed_cell(cell);
  std::array<char, 32> copy;
  if (form_.decimal == ',') {
    if (cell.size() > copy.size()) return std::nullopt;
    std::replace_copy(cell.begin(), cell.end(), copy.begin(), ',', '.');
    if (cell.find('.') != std::string_view::npos) return std::nullopt;
    cell = {copy.data(), cell.size()};
  }
  if (cell.empty() || cell.front() == 'n' || cell.front() == 'i') return std::nullopt;
  double value = 0;
  const auto [end, error] = std::from_chars(cell.data(), cell.data() + cell.size(), value);
  constexpr double kLarge = 1e30;  // what is more may be a meter's overload
  if (error != std::errc() || end != cell.data() + cell.size() || !(std::abs(value) < kLarge))
    return std::nullopt;
  return static_cast<float>(unit_ ? unit_->scale * value + unit_->offset : value);
}

std::optional<float> RowValues::read(std::string_view cell, std::string_view unit) {
  if (!form_open_ && form_.thousands == 0 && unit.empty())
    if (const auto plain = read_plain(cell)) return plain;
  std::optional<CellValue> value = read_value(cell, form_);
  if (form_open_ && (!value || std::isfinite(value->value)))
    if (const auto settled = settle_form(cell); settled || !why_.empty()) value = settled;
  if (!value) {
    if (!why_.empty()) return std::nullopt;
    why_ = "is not a number";
    const std::string_view text = trimmed_cell(cell);
    mend_ =
        text.find_first_of(".,") != std::string_view::npos
            ? "correct the cell or leave it empty, or say in the rig which mark is decimal: text "
              "{ decimal: COMMA } or text { decimal: POINT }"
            : "correct the cell or leave it empty";
    return std::nullopt;
  }
  if (std::isnan(value->value)) ++missing_;
  if (std::isinf(value->value)) ++overloads_;
  if (unit.empty()) unit = value->unit;
  const std::optional<Unit>* by = &unit_;
  if (!unit.empty()) {
    if (!take_unit(unit)) return std::nullopt;
    by = &now_;
  }
  if (!*by) return static_cast<float>(value->value);
  return static_cast<float>((*by)->scale * value->value + (*by)->offset);
}

SourceChannel channel_of(const TableColumn& column, std::size_t number) {
  SourceChannel out;
  out.name = column.name;
  out.written = column.written;
  out.column = number;
  out.repeats = column.repeats;
  out.unit = column.unit;
  const auto unit = measured_unit(column.unit);
  if (unit) {
    out.unit_scale = unit->scale;
    out.unit_offset = unit->offset;
    out.absolute = unit->absolute ||
                   (unit->dimension == Dimension::kPressure && says_absolute(column.written));
  }
  return out;
}

}  // namespace airlatch
