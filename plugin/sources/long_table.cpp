// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/long_table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <optional>

#include "plugin/sources/column_facts.hpp"
#include "plugin/sources/header_names.hpp"
#include "plugin/sources/row_times.hpp"
#include "plugin/sources/row_values.hpp"
#include "plugin/sources/text_words.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kRows = 4096;  // handed out at a time

class LongTable final : public Source {
 public:
  LongTable(std::unique_ptr<TableLines> lines, TableLayout layout, const TableHead& head)
      : layout_(std::move(layout)), table_(std::move(lines)), times_(layout_.time) {
    value_ = layout_.values[0];
    if (layout_.time.form == TimeColumn::Form::kNone)
      refuse(fmt::format("line {}", layout_.first_line), "one reading a row, and no time",
             "record a time with each reading");
    find_channels(head);
    for (Channel& channel : channels_) about_.push_back(channel.about);
    table_->skip_to(layout_.first_line);
  }

  [[nodiscard]] const std::vector<SourceChannel>& channels() const override { return about_; }

  bool next(SampleBlock& block) override {
    while (true) {
      for (; handing_ < channels_.size(); ++handing_) {
        Channel& channel = channels_[handing_];
        if (channel.given == channel.settled) continue;
        block = {};
        block.channel = handing_++;
        const std::size_t n = channel.settled - channel.given;
        block.times_ns = std::span<const std::int64_t>(channel.times_ns).subspan(channel.given, n);
        block.values = std::span<const float>(channel.values).subspan(channel.given, n);
        channel.given = channel.settled;
        return true;
      }
      if (ended_) return false;
      read_on();
      handing_ = 0;
    }
  }

  [[nodiscard]] std::string damage() const override { return damage_; }
  [[nodiscard]] std::vector<std::string> remarks() const override { return remarks_; }
  [[nodiscard]] std::vector<std::string> understood() const override {
    std::vector<std::string> out = layout_.understood;
    for (const Channel& channel : channels_) {
      if (channel.read.missing() > 0)
        out.push_back(fmt::format("channel '{}': {} cells are missing", channel.about.name,
                                  channel.read.missing()));
      if (channel.read.overloads() > 0)
        out.push_back(fmt::format("channel '{}': {} cells are overloads", channel.about.name,
                                  channel.read.overloads()));
    }
    return out;
  }
  [[nodiscard]] std::string sha256() override { return table_->reader().sha256(); }
  [[nodiscard]] double progress() const override { return table_->reader().progress(); }

 private:
  struct Channel {
    SourceChannel about;
    RowValues read;
    std::vector<float> values = {};
    std::vector<std::int64_t> times_ns = {};  // as printed, from `settled` on
    std::size_t settled = 0, given = 0;       // so many have their times; so many were handed out
    std::int64_t step_ns = 0;
  };

  [[noreturn]] void refuse(const std::string& place, const std::string& what,
                           const std::string& mend) const {
    throw InputError(ExitStatus::kUnusableData, table_->reader().name(), place, what, mend);
  }
  bool stop(const std::string& place, const std::string& what, const std::string& mend) {
    if (rows_ == 0) refuse(place, what, mend);
    damage_ = InputError(ExitStatus::kUnusableData, table_->reader().name(), place, what,
                         "what stands before it was decoded; " + mend)
                  .what();
    return false;
  }
  [[nodiscard]] std::string place(std::size_t column) const {
    return fmt::format("line {}, column {}", table_->number(), column + 1);
  }

  // The channels, from all rows of a file, or the first of a pipe; and whether time runs through it
  // once a channel.
  void find_channels(const TableHead& head) {
    RowTimes times(layout_.time);
    std::optional<std::int64_t> last_ns;
    const auto take = [&](const Cells& cells) {
      const auto time = times.read(cells);
      if (!time || *layout_.channel_column >= cells.size() || value_ >= cells.size()) return;
      if (last_ns && time->ns < *last_ns) by_channel_ = true;
      last_ns = time->ns;
      const auto units = layout_.about[value_].units;
      add_channel(cells[*layout_.channel_column], units && *units < cells.size()
                                                      ? trimmed_cell(cells[*units])
                                                      : std::string_view());
    };
    const WalkRows walk = table_->walk(layout_);
    if (walk)
      walk([&](const Cells& cells, std::uint64_t) {
        take(cells);
        return channels_.size() < kMostChannels;
      });
    Cells cells;
    if (!walk)
      for (const HeadLine& line : head.lines) {
        if (line.number < layout_.first_line || is_no_row(line.text, layout_.separator)) continue;
        split_cells(line.text, layout_.separator, cells);
        take(cells);
      }
    if (channels_.empty()) refuse("", "it holds no samples", "record it again");
  }

  void add_channel(std::string_view cell, std::string_view unit) {
    const std::string_view name = trimmed_cell(cell);
    if (name.empty() || by_name_.contains(name)) return;
    by_name_.emplace(std::string(name), channels_.size());
    const ColumnName split = split_name(unquoted_cell(name));
    TableColumn column = layout_.about[value_];
    column.name = split.name;
    column.written = split.written;
    const std::string all = column.units ? std::string() : column.unit;
    column.unit = !unit.empty() ? as_utf8(unit) : !split.unit.empty() ? split.unit : all;
    channels_.push_back({channel_of(column, 0), RowValues(column)});
  }

  void read_on() {
    for (Channel& channel : channels_) drop_given(channel);
    const std::size_t most = by_channel_ ? ~std::size_t{0} : kRows;
    for (std::size_t k = 0; k < most && !ended_; ++k)
      if (!read_row()) ended_ = true;
    for (Channel& channel : channels_) settle(channel);
    if (!ended_) return;
    if (rows_ == 0) refuse("", "it holds no samples", "record it again");
    if (alike_ > 0)
      remarks_.push_back(
          fmt::format("{} rows print the time of their channel's row before: they are "
                      "kept in their order, evenly up to the next",
                      alike_));
    if (unknown_ > 0)
      remarks_.push_back(
          fmt::format("{} rows name a channel that the first ones did not: left out", unknown_));
  }

  static void drop_given(Channel& channel) {
    const auto given = static_cast<std::ptrdiff_t>(channel.given);
    channel.values.erase(channel.values.begin(), channel.values.begin() + given);
    channel.times_ns.erase(channel.times_ns.begin(), channel.times_ns.begin() + given);
    channel.settled -= channel.given;
    channel.given = 0;
  }

  // Values that print one time lie evenly from it to the channel's next; those of the last time are
  // kept until that is known.
  void settle(Channel& channel) {
    std::vector<std::int64_t>& times = channel.times_ns;
    std::size_t from = channel.settled;
    while (from < times.size()) {
      std::size_t to = from + 1;
      while (to < times.size() && times[to] == times[from]) ++to;
      if (to == times.size() && !ended_) break;
      const auto n = static_cast<std::int64_t>(to - from);
      if (n > 1) {
        std::int64_t span_ns = resolution_ns_;
        if (to < times.size()) span_ns = std::min(span_ns, times[to] - times[from]);
        std::int64_t step_ns = std::max<std::int64_t>(span_ns / n, 1);
        if (to == times.size() && channel.step_ns > 0) step_ns = std::min(step_ns, channel.step_ns);
        for (std::size_t k = from + 1; k < to; ++k)
          times[k] = times[from] + static_cast<std::int64_t>(k - from) * step_ns;
        channel.step_ns = step_ns;
        alike_ += to - from - 1;
      }
      from = to;
    }
    channel.settled = from;
  }

  bool read_row() {
    std::string_view line;
    try {
      do {
        if (!table_->next(line)) return false;
      } while (is_no_row(line, layout_.separator) || line == layout_.header);
    } catch (const InputError& error) {
      if (rows_ == 0 || error.status() != ExitStatus::kUnusableData) throw;
      damage_ = error.what();
      return false;
    }
    if (table_->reader().ended_open() && rows_ > 0) {
      remarks_.push_back(
          fmt::format("line {}, the last, has no line end: it may be cut short and is not used",
                      table_->number()));
      return false;
    }
    split_cells(line, layout_.separator, cells_);
    const auto time = times_.read(cells_);
    if (!time)
      return stop(place(layout_.time.column),
                  fmt::format("'{}' is not a time", layout_.time.column < cells_.size()
                                                        ? quoted(cells_[layout_.time.column])
                                                        : quoted(line)),
                  "it must be written as in the first row");
    if (!countable(time->ns))
      return stop(place(layout_.time.column), "is a time more than 126 years from its origin",
                  "times count from the first row, or from 1970");
    if (*layout_.channel_column >= cells_.size() || value_ >= cells_.size())
      return stop(
          fmt::format("line {}", table_->number()),
          fmt::format("{} cells, but the table has {} columns", cells_.size(), layout_.columns),
          "correct the row");
    resolution_ns_ =
        rows_ == 0 ? time->resolution_ns : std::min(resolution_ns_, time->resolution_ns);
    return add(*time);
  }

  bool add(const ParsedTime& time) {
    const auto named = by_name_.find(trimmed_cell(cells_[*layout_.channel_column]));
    if (named == by_name_.end()) return ++unknown_, true;
    Channel& channel = channels_[named->second];
    const auto units = layout_.about[value_].units;
    const auto value = channel.read.read(cells_[value_], units && *units < cells_.size()
                                                             ? trimmed_cell(cells_[*units])
                                                             : std::string_view());
    if (!value)
      return stop(place(value_), fmt::format("'{}' {}", quoted(cells_[value_]), channel.read.why()),
                  channel.read.mend());
    if (!channel.times_ns.empty() && time.ns < channel.times_ns.back())
      return stop(
          place(layout_.time.column),
          fmt::format("the time goes backwards ('{}')", quoted(cells_[layout_.time.column])),
          "sort the rows, or split the file where the clock was set back");
    channel.times_ns.push_back(time.ns);
    channel.values.push_back(*value);
    ++rows_;
    return true;
  }

  TableLayout layout_;
  std::unique_ptr<TableLines> table_;
  RowTimes times_;
  std::size_t value_ = 0;
  std::vector<Channel> channels_;
  std::vector<SourceChannel> about_;
  std::map<std::string, std::size_t, std::less<>> by_name_;
  bool by_channel_ = false, ended_ = false;
  Cells cells_;
  std::size_t handing_ = 0;
  std::uint64_t rows_ = 0, alike_ = 0, unknown_ = 0;
  std::int64_t resolution_ns_ = 1;
  std::string damage_;
  std::vector<std::string> remarks_;
};

}  // namespace

std::unique_ptr<Source> open_long_table(std::unique_ptr<TableLines> lines, TableLayout layout,
                                        const TableHead& head) {
  return std::make_unique<LongTable>(std::move(lines), std::move(layout), head);
}

}  // namespace airlatch
