// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/recorder/csv_writer.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>

#include "plugin/recorder/csv_cell.hpp"
#include "plugin/sources/units.hpp"
#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {

constexpr std::int64_t kNever = std::numeric_limits<std::int64_t>::max();
constexpr std::size_t kPiece = 1U << 16;  // bytes of text written at once

// What a header's brackets hold: the unit that values are handed out in, which is the role's where
// the file's is known.
std::string unit_written(const SourceChannel& channel) {
  const auto unit = parse_unit(channel.unit);
  return unit && unit->dimension != Dimension::kTime ? base_unit(unit->dimension) : channel.unit;
}

// Name and unit as the reader of such text takes them apart; brackets at the end of a name are no
// unit where empty ones follow.
std::string header_cell(const SourceChannel& channel, std::size_t number) {
  std::string text = shown_text(channel.name, CsvWriter::kLongestName);
  text.erase(text.find_last_not_of(' ') + 1);
  if (text.empty()) text = fmt::format("CH{}", number);
  const std::string unit = unit_written(channel);
  if (!unit.empty() || text.ends_with(')') || text.ends_with(']')) text += " [" + unit + "]";
  return csv_cell(text);
}

}  // namespace

CsvWriter::CsvWriter(WholeFile& file, const std::vector<SourceChannel>& channels)
    : file_(file), columns_(channels.size()), text_("time_s") {
  for (std::size_t c = 0; c < channels.size(); ++c) text_ += "," + header_cell(channels[c], c + 1);
  text_ += '\n';
}

void CsvWriter::add(const SampleBlock& block) {
  Column& column = columns_[block.channel];
  const std::size_t n = block.values.size();
  if (n == 0) {
    column.ended = true;
  } else {
    column.held.push_back({block,
                           {block.values.begin(), block.values.end()},
                           {block.times_ns.begin(), block.times_ns.end()}});
    Held& held = column.held.back();  // stays where it is until it is taken off
    held.block.values = held.values;
    held.block.times_ns = held.times_ns;
    held_ += n;
    column.newest_ns =
        std::max(column.begun ? column.newest_ns : std::numeric_limits<std::int64_t>::min(),
                 block.time_ns(n - 1));
    column.begun = true;
    if (column.held.size() == 1) look_at_next(column);
  }
  write_rows(reached_ns(), 0);
  if (held_ > kMostHeld) write_rows(kNever, kMostHeld / 2);
}

void CsvWriter::finish() {
  write_rows(kNever, 0);
  file_.write(text_);
  text_.clear();
}

// As far as all channels have come.
std::int64_t CsvWriter::reached_ns() const {
  std::int64_t reached = kNever;
  for (const Column& column : columns_) {
    if (column.ended) continue;
    reached = std::min(reached,
                       column.begun ? column.newest_ns : std::numeric_limits<std::int64_t>::min());
  }
  return reached;
}

// The time of the column's next sample; those that are not after the last row are left out.
void CsvWriter::look_at_next(Column& column) {
  while (!column.held.empty()) {
    Held& held = column.held.front();
    if (held.at == held.values.size()) {
      column.held.pop_front();
      continue;
    }
    column.next_ns = held.block.time_ns(held.at);
    if (!any_row_ || column.next_ns > last_ns_) return;
    ++held.at;
    ++left_out_;
    --held_;
  }
}

void CsvWriter::write_rows(std::int64_t up_to_ns, std::size_t leave) {
  while (held_ > leave) {
    std::int64_t next_ns = kNever;
    for (const Column& column : columns_)
      if (!column.held.empty()) next_ns = std::min(next_ns, column.next_ns);
    if (held_ == 0 || next_ns > up_to_ns) return;
    write_row(next_ns);
  }
}

void CsvWriter::write_row(std::int64_t time_ns) {
  if (!any_row_) first_ns_ = time_ns;
  any_row_ = true;
  last_ns_ = time_ns;
  const std::uint64_t from_ns =
      static_cast<std::uint64_t>(time_ns) - static_cast<std::uint64_t>(first_ns_);
  const auto to = std::back_inserter(text_);
  fmt::format_to(to, "{}.{:09}", from_ns / 1'000'000'000, from_ns % 1'000'000'000);
  for (Column& column : columns_) {
    text_ += ',';
    if (column.held.empty() || column.next_ns != time_ns) continue;
    Held& held = column.held.front();
    const float value = held.values[held.at++];
    --held_;
    if (std::isinf(value))
      text_ += value > 0 ? "OL" : "-OL";
    else if (!std::isnan(value))
      fmt::format_to(to, "{:.9g}", value);
    look_at_next(column);
  }
  text_ += '\n';
  if (text_.size() < kPiece) return;
  file_.write(text_);
  text_.clear();
}

}  // namespace airlatch
