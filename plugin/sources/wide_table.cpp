// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/wide_table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

#include "plugin/sources/column_facts.hpp"
#include "plugin/sources/even_clock.hpp"
#include "plugin/sources/plain_rows.hpp"
#include "plugin/sources/row_times.hpp"
#include "plugin/sources/row_values.hpp"
#include "plugin/sources/text_words.hpp"
#include "plugin/system/input_error.hpp"
#include "plugin/system/worker.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kStretch = 1024;   // rows handed out at a time
constexpr std::size_t kSingle = 64;      // rows read one by one before plain ones are tried
constexpr std::size_t kPart = 1U << 17;  // bytes of plain rows read by one thread at a time
constexpr int kMostUnlike = 8;
constexpr int kMostPasses = 63;    // stretches of single rows between two looks for plain ones
constexpr std::size_t kLook = 64;  // rows that must keep to a period before it is believed
constexpr std::size_t kMostAlike = 1e5;  // rows that print one time
constexpr std::size_t kFooter = 64;      // lines behind the last row that may be none

class WideTable final : public Source {
 public:
  WideTable(std::unique_ptr<TableLines> lines, TableLayout layout)
      : layout_(std::move(layout)),
        table_(std::move(lines)),
        lines_(table_->reader()),
        timed_(layout_.time.form != TimeColumn::Form::kNone),
        clock_(layout_.clock),
        times_(layout_.time) {
    for (const std::size_t c : layout_.values) {
      channels_.push_back(channel_of(layout_.about[c], c + 1));
      if (clock_) channels_.back().clock = *clock_;
      values_.emplace_back(layout_.about[c]);
    }
    row_.resize(channels_.size());
    alike_.values.resize(channels_.size());
    single_.values.resize(channels_.size());
    handing_ = channels_.size();
    plain_ = is_plain();
    if (plain_ && timed_) per_second_ = kSecond_ns / layout_.time.unit_ns;
    table_->skip_to(layout_.first_line);
    if (timed_) look_ahead();
  }

  [[nodiscard]] const std::vector<SourceChannel>& channels() const override { return channels_; }

  bool next(SampleBlock& block) override {
    while (true) {
      while (handing_ == channels_.size()) {
        if (!gather()) return false;
        handing_ = 0;
      }
      const std::size_t channel = handing_++;
      if (handing_ == channels_.size()) last_of_stretch_ = true;
      block = piece_;
      block.channel = channel;
      block.values = std::span<const float>(here_->values[channel]).subspan(from_, to_ - from_);
      const bool some = !layout_.about[layout_.values[channel]].sparse || only_filled(block);
      if (last_of_stretch_) {
        last_of_stretch_ = false;
        from_ = to_;
      }
      if (some) return true;
    }
  }

  [[nodiscard]] std::string damage() const override { return damage_; }
  [[nodiscard]] std::vector<std::string> remarks() const override { return remarks_; }
  [[nodiscard]] std::vector<std::string> understood() const override {
    std::vector<std::string> out = layout_.understood;
    std::string in_turn;
    for (std::size_t c = 0; c < channels_.size(); ++c) {
      const bool sparse = layout_.about[layout_.values[c]].sparse;
      if (values_[c].missing() > 0 && !sparse)
        out.push_back(fmt::format("channel '{}': {} cells are missing", channels_[c].name,
                                  values_[c].missing()));
      if (values_[c].overloads() > 0)
        out.push_back(fmt::format("channel '{}': {} cells are overloads", channels_[c].name,
                                  values_[c].overloads()));
      if (sparse) in_turn += (in_turn.empty() ? "'" : ", '") + channels_[c].name + "'";
    }
    if (!in_turn.empty())
      out.push_back("read in turn, so that empty cells are no gaps: " + in_turn);
    return out;
  }
  [[nodiscard]] std::string sha256() override { return lines_.sha256(); }
  [[nodiscard]] double progress() const override { return lines_.progress(); }

 private:
  struct Rows {
    std::vector<std::vector<float>> values;  // a column a channel
    std::vector<std::int64_t> times_ns;
    std::vector<PlainColumn> columns;  // where plain rows go
    std::size_t room = 0;              // for so many rows
    PlainRows plain = {};
    std::size_t n = 0;
  };

  [[noreturn]] void refuse(const std::string& place, const std::string& what,
                           const std::string& mend) const {
    throw InputError(ExitStatus::kUnusableData, lines_.name(), place, what, mend);
  }
  [[noreturn]] void throw_cut() const {
    refuse(fmt::format("line {}", lines_.number()), "the first row is cut short",
           "record it again");
  }
  // The table cannot be read on from here: what stands before is used, if there is any. False.
  bool stop(const std::string& place, const std::string& what, const std::string& mend) {
    ended_ = true;
    if (rows_ == 0) refuse(place, what, mend);
    damage_ = InputError(ExitStatus::kUnusableData, lines_.name(), place, what,
                         "what stands before it was decoded; " + mend)
                  .what();
    return false;
  }
  bool stop_at_cell(std::size_t column, const std::string& is_not, const std::string& mend) {
    const std::string_view cell = column < cells_.size() ? cells_[column] : std::string_view();
    return stop(place(column), fmt::format("'{}' {}", quoted(cell), is_not), mend);
  }
  [[nodiscard]] std::string place(std::size_t column) const {
    return fmt::format("line {}, column {}", lines_.number(), column + 1);
  }
  bool stop_reading(const InputError& error) {
    if (rows_ == 0 || error.status() != ExitStatus::kUnusableData) throw error;
    ended_ = true;
    damage_ = error.what();
    return false;
  }

  // Rows are looked at before the first is handed out; a pipe is not waited for.
  void look_ahead() {
    if (lines_.regular())
      while (single_.n < kLook && read_row()) {
      }
    else
      read_row();
    if (ended_) release_alike(std::nullopt);
    if (single_.n == 0 && !damage_.empty()) throw_cut();
    if (single_.n == 0) refuse("", "it holds no samples", "record it again");
    if (lines_.regular()) clock_ = even_clock(single_.times_ns, resolution_ns_);
    for (std::size_t c = 0; c < channels_.size(); ++c)
      if (clock_ && !layout_.about[layout_.values[c]].sparse) channels_[c].clock = *clock_;
  }

  // Whether rows of plain numbers can be read many at once.
  [[nodiscard]] bool is_plain() const {
    const TimeColumn& time = layout_.time;
    const std::size_t first = timed_ ? 1 : 0;
    if (!table_->as_they_stand() || layout_.separator == kBlanks || layout_.separator == '\0')
      return false;
    if (timed_ && (time.form != TimeColumn::Form::kCount || time.column != 0 ||
                   time.unit_ns > kSecond_ns || time.number.thousands != 0 || time.origin_ns != 0))
      return false;
    if (layout_.values.size() + first != layout_.columns) return false;
    for (const std::size_t c : layout_.values) {
      const TableColumn& column = layout_.about[c];
      const char decimal =
          timed_ ? time.number.decimal : layout_.about[layout_.values[0]].form.decimal;
      if (column.units || column.form.thousands != 0) return false;
      if (column.form.decimal != decimal && !column.form_open) return false;
    }
    return true;
  }
  [[nodiscard]] bool comma() const {
    if (timed_) return layout_.time.number.decimal == ',';
    return layout_.about[layout_.values[0]].form.decimal == ',';
  }

  // Skips comments, empty lines, and the header where it comes again.
  bool next_row(std::string_view& line) {
    try {
      while (table_->next(line))
        if (!is_no_row(line, layout_.separator) &&
            (layout_.header.empty() || line != layout_.header))
          return true;
      return false;
    } catch (const InputError& error) {
      return stop_reading(error);
    }
  }

  void split() {
    split_cells(line_, layout_.separator, cells_);
    while (cells_.size() > layout_.columns && trimmed_cell(cells_.back()).empty())
      cells_.pop_back();
  }

  // Reads one row; false at the end of the table.
  bool read_row() {
    if (ended_ || !next_row(line_)) {
      ended_ = true;
      return false;
    }
    split();
    if (lines_.ended_open()) return leave_out_last();
    const bool fits = cells_.size() >= layout_.least && cells_.size() <= layout_.columns;
    ParsedTime time;
    if (timed_) {
      const auto read = times_.read(cells_);
      if (!read) return fits || is_footer() ? no_time() : wrong_count();
      time = *read;
    }
    if (!fits) return wrong_count();
    if (timed_ && !is_next(time)) return false;
    for (std::size_t c = 0; c < channels_.size(); ++c) {
      const std::size_t at = layout_.values[c];
      const auto units = layout_.about[at].units;
      const auto value = values_[c].read(
          at < cells_.size() ? cells_[at] : std::string_view(),
          units && *units < cells_.size() ? trimmed_cell(cells_[*units]) : std::string_view());
      if (!value) {
        if (is_footer() && end_at_footer()) return false;
        return stop_at_cell(at, values_[c].why(), values_[c].mend());
      }
      row_[c] = *value;
    }
    add_row(time);
    return true;
  }

  bool wrong_count() {
    if (is_footer() && end_at_footer()) return false;
    return stop(
        fmt::format("line {}", lines_.number()),
        fmt::format("{} cells, but the table has {} columns", cells_.size(), layout_.columns),
        "correct the row or leave the cell empty where a sample is missing");
  }

  bool no_time() {
    if (is_footer() && end_at_footer()) return false;
    return stop_at_cell(layout_.time.column, "is not a time",
                        layout_.time.form == TimeColumn::Form::kCount
                            ? "seconds, or ISO 8601 date and time, can be read"
                            : "it must be written as in the first row");
  }

  bool is_next(const ParsedTime& time) {
    if (!countable(time.ns))
      return stop_at_cell(layout_.time.column, "is a time more than 126 years from its origin",
                          "times count from the first row, or from 1970");
    if (rows_ > 0 && time.ns < last_ns_)
      return stop(
          place(layout_.time.column),
          fmt::format("the time goes backwards ('{}')", quoted(cells_[layout_.time.column])),
          "sort the rows, or split the file where the clock was set back");
    if (alike_.n >= kMostAlike)
      return stop(place(layout_.time.column), "the time stands still",
                  "write the time with more digits");
    return true;
  }

  void add_row(const ParsedTime& time) {
    if (!timed_) {
      append(0);
    } else if (rows_ > 0 && time.ns == last_ns_) {
      for (std::size_t c = 0; c < row_.size(); ++c) alike_.values[c].push_back(row_[c]);
      ++alike_.n;
    } else {
      const bool first = rows_ == 0;
      release_alike(time.ns);
      last_resolution_ns_ = time.resolution_ns;
      resolution_ns_ = first ? time.resolution_ns : std::min(resolution_ns_, time.resolution_ns);
      last_ns_ = time.ns;
      append(time.ns + (first ? first_shift_ns(time.resolution_ns) : 0));
    }
    ++rows_;
  }

  void append(std::int64_t time_ns) {
    if (timed_) single_.times_ns.push_back(time_ns);
    for (std::size_t c = 0; c < row_.size(); ++c) single_.values[c].push_back(row_[c]);
    ++single_.n;
  }

  // Where a second has been running before the first of its rows was written, that lies within it.
  [[nodiscard]] std::int64_t first_shift_ns(std::int64_t resolution_ns) const {
    const auto first = static_cast<std::int64_t>(layout_.first_repeats),
               usual = static_cast<std::int64_t>(layout_.usual_repeats);
    return usual > first && usual > 1 ? resolution_ns / usual * (usual - first) : 0;
  }

  // Rows that print the time of the last one lie evenly from it to the next, no further than it is
  // fine. `next_ns`: of the row that follows, if there is one.
  void release_alike(std::optional<std::int64_t> next_ns) {
    if (alike_.n == 0) return;
    const std::int64_t all = static_cast<std::int64_t>(alike_.n) + 1;
    std::int64_t span_ns = std::max(last_resolution_ns_, std::int64_t{1});
    if (next_ns) span_ns = std::min(span_ns, *next_ns - last_ns_);
    const bool first = alike_rows_ == 0 && first_shift_ns(last_resolution_ns_) > 0 &&
                       all <= static_cast<std::int64_t>(layout_.first_repeats);
    const std::int64_t from_ns = last_ns_ + (first ? first_shift_ns(last_resolution_ns_) : 0);
    std::int64_t step_ns = std::max<std::int64_t>((span_ns - (from_ns - last_ns_)) / all, 1);
    if (!next_ns && alike_step_ns_ > 0) step_ns = std::min(step_ns, alike_step_ns_);
    for (std::size_t k = 0; k < alike_.n; ++k) {
      for (std::size_t c = 0; c < row_.size(); ++c)
        single_.values[c].push_back(alike_.values[c][k]);
      single_.times_ns.push_back(from_ns + static_cast<std::int64_t>(k + 1) * step_ns);
      ++single_.n;
    }
    alike_rows_ += alike_.n;
    alike_step_ns_ = step_ns;
    resolution_ns_ = std::min(resolution_ns_, step_ns);
    for (auto& column : alike_.values) column.clear();
    alike_.n = 0;
  }

  // A row of statistics, or one without a number.
  [[nodiscard]] bool is_footer() const {
    bool number = false, statistic = false;
    for (const std::string_view cell : cells_) {
      const CellKind kind = kind_of(cell, layout_.separator);
      number |= kind == CellKind::kNumber || kind == CellKind::kMoment;
      statistic |=
          kind == CellKind::kText && means(folded(trimmed_cell(cell)), Meaning::kStatistic);
    }
    return statistic || !number;
  }

  // What follows is no row either, to the end of the file: the table is whole without it.
  bool end_at_footer() {
    if (rows_ == 0) return false;
    const std::uint64_t first = lines_.number();
    const std::string text = as_utf8(quoted(line_));
    const auto cells = cells_;
    std::size_t lines = 0;
    try {
      for (std::string_view line; table_->next(line);) {
        if (is_no_row(line, layout_.separator)) continue;
        if (++lines > kFooter) return false;
        line_ = line;
        split();
        if (RowTimes(layout_.time).read(cells_) && !is_footer()) return false;
      }
    } catch (const InputError&) {
      return false;
    }
    ended_ = true;
    remarks_.push_back(
        fmt::format("line {} ('{}') and what follows is no row of samples: it is left "
                    "out",
                    first, text));
    return true;
  }

  // A row without its line end may have been cut within its last cell, whose number is then another
  // one: it is told and not used. False.
  bool leave_out_last() {
    ended_ = true;
    bool whole = cells_.size() >= layout_.least && cells_.size() <= layout_.columns &&
                 (!timed_ || times_.read(cells_));
    for (std::size_t c = 0; whole && c < channels_.size(); ++c)
      whole =
          layout_.values[c] >= cells_.size() ||
          read_value(cells_[layout_.values[c]], layout_.about[layout_.values[c]].form).has_value();
    if (rows_ > 0 && !whole && is_footer())
      remarks_.push_back(fmt::format("line {} ('{}') is no row of samples: it is left out",
                                     lines_.number(), as_utf8(quoted(line_))));
    else if (!whole || rows_ == 0)
      cut();
    else
      remarks_.push_back(
          fmt::format("line {}, the last, has no line end: it may be cut short and is not used",
                      lines_.number()));
    return false;
  }

  void cut() {
    damage_ = InputError(ExitStatus::kUnusableData, lines_.name(),
                         fmt::format("line {}", lines_.number()), "the last row is cut short",
                         "what stands before it was decoded; copy the file again for the rest")
                  .what();
  }

  // Rows of plain numbers in rising time, many at once, into parts_, which two threads share.
  // False: the next row is none.
  bool take_plain() {
    if (!plain_ || ended_ || alike_.n > 0) return false;
    std::string_view text;
    try {
      text = lines_.ahead();
    } catch (const InputError& error) {
      return stop_reading(error);
    }
    if (text.empty()) return false;  // a pipe: what comes next is waited for row by row
    texts_.clear();
    const std::size_t most = unlike_ < kMostUnlike ? text.size() / kPart + 1 : 1;
    for (std::size_t from = 0; from < text.size();) {
      const std::size_t left = most - texts_.size(), about = (text.size() - from) / left;
      const std::size_t end =
          left == 1 ? text.size() : text.find('\n', from + std::max<std::size_t>(about, 1) - 1) + 1;
      texts_.push_back(text.substr(from, end - from));
      from = end;
    }
    if (parts_.size() < texts_.size()) parts_.resize(texts_.size());
    for (std::size_t i = 0; i < texts_.size(); ++i) make_room(parts_[i], texts_[i].size());
    const auto read = [this](std::size_t i) {
      constexpr std::int64_t kAny = std::numeric_limits<std::int64_t>::min();
      const bool after = i == 0 && std::abs(last_ns_) < kLatest_ns / per_second_;
      read_rows(texts_[i], parts_[i], !after ? kAny : rows_ > 0 ? last_ns_ * per_second_ : -1);
    };
    if (texts_.size() > 1) {
      if (!hand_) hand_.emplace();
      hand_->do_all(texts_.size() + 1, [&](std::size_t i) {
        if (i == 0)
          lines_.read_on();
        else
          read(i - 1);
      });
    } else {
      read(0);
    }
    // A part counts only where those before it were plain to their ends.
    handed_ = 0;
    for (ready_ = 0; ready_ < texts_.size();) {
      Rows& part = parts_[ready_];
      if (part.plain.rows == 0 || (timed_ && rows_ > 0 && part.times_ns[0] <= last_ns_)) break;
      take(part);
      ++ready_;
      if (part.plain.bytes == texts_[ready_ - 1].size()) continue;
      if (part.n == part.room)
        least_cell_ = std::max<std::size_t>(least_cell_ / 2, 1);  // there was no room for more
      else if (texts_.size() > 1)
        ++unlike_;
      break;
    }
    return ready_ > 0;
  }

  // Where plain rows were looked for in vain, they are looked for ever more rarely.
  bool tries_plain() {
    if (to_pass_ > 0) return --to_pass_, false;
    const bool found = take_plain();
    passes_ = found ? 0 : std::min(2 * passes_ + 1, kMostPasses);
    to_pass_ = passes_;
    return found;
  }

  void make_room(Rows& rows, std::size_t characters) {
    rows.room = characters / least_cell_ / layout_.columns + 1;
    rows.values.resize(channels_.size());
    if (timed_) rows.times_ns.resize(std::max(rows.room, rows.times_ns.size()));
    rows.columns.clear();
    for (std::size_t c = 0; c < channels_.size(); ++c) {
      rows.values[c].resize(std::max(rows.room, rows.values[c].size()));
      rows.columns.push_back(
          {channels_[c].unit_scale, channels_[c].unit_offset, rows.values[c].data()});
    }
  }

  void read_rows(std::string_view text, Rows& into, std::int64_t after_ns) const {
    into.plain =
        take_plain_rows(text, {.separator = layout_.separator, .comma = comma(), .time = timed_},
                        into.columns, into.times_ns.data(), after_ns, into.room);
    if (per_second_ > 1) recount(into);
  }

  // Plain rows are read in seconds: another unit is a part of them. Digits finer than that leaves
  // are left to be looked at one by one.
  void recount(Rows& rows) const {
    PlainRows& plain = rows.plain;
    if (plain.rows == 0) return;
    if (plain.resolution_ns % per_second_ != 0) {
      plain = {};
      return;
    }
    for (std::size_t k = 0; k < plain.rows; ++k) rows.times_ns[k] /= per_second_;
    plain.last_ns /= per_second_;
    plain.step_ns /= per_second_;
    plain.resolution_ns /= per_second_;
  }

  void take(Rows& rows) {
    const PlainRows& plain = rows.plain;
    rows.n = plain.rows;
    if (timed_) {
      resolution_ns_ =
          rows_ == 0 ? plain.resolution_ns : std::min(resolution_ns_, plain.resolution_ns);
      last_resolution_ns_ = plain.resolution_ns;
      last_ns_ = plain.last_ns;
    }
    rows_ += plain.rows;
    lines_.skip(plain.bytes, plain.rows);
  }

  // The next rows, here_; false at the end.
  bool more() {
    from_ = 0;
    if (handed_ < ready_ || (here_ && tries_plain())) {
      here_ = &parts_[handed_++];
      return true;
    }
    if (here_) {  // else rows were read to see what they are like
      for (auto& column : single_.values) column.clear();
      single_.times_ns.clear();
      single_.n = 0;
    }
    here_ = &single_;
    while (single_.n < kSingle && (single_.n == 0 || lines_.regular() || lines_.buffered()) &&
           read_row()) {
    }
    if (ended_) release_alike(std::nullopt);
    return single_.n > 0;
  }

  // The next stretch that shares one clock, or has its own times.
  bool gather() {
    if ((!here_ || from_ == here_->n) && !more()) {
      if (rows_ == 0) {
        if (!damage_.empty()) throw_cut();
        refuse("", "it holds no samples", "record it again");
      }
      tell_alike();
      return false;
    }
    to_ = std::min(here_->n, from_ + kStretch);
    piece_ = {};
    if (!timed_) {
      piece_.clock = *clock_;
      piece_.first = index_;
      index_ += static_cast<std::int64_t>(to_ - from_);
      return true;
    }
    const std::vector<std::int64_t>& times_ns = here_->times_ns;
    if (clock_) {
      const std::int64_t tolerance = resolution_ns_ / 2 + 1;
      const auto place_of = [&](std::int64_t t) -> std::optional<std::int64_t> {
        const std::int64_t k = clock_->index_at_or_after(t - tolerance);
        if (k < index_ || std::abs(since_ns(clock_->time_ns(k), t)) > tolerance)
          return std::nullopt;
        return k;
      };
      const auto first = place_of(times_ns[from_]);
      if (first) {
        const auto keeps = [&](std::size_t row) {
          const auto k = *first + static_cast<std::int64_t>(row - from_);
          return std::abs(since_ns(clock_->time_ns(k), times_ns[row])) <= tolerance;
        };
        // Where all steps are the clock's, the first row keeps to it for all.
        if (clock_->den != 1 || here_->plain.step_ns != clock_->num_ns) {
          std::size_t row = from_ + 1;
          while (row < to_ && keeps(row)) ++row;
          to_ = row;
        }
        piece_.clock = *clock_;
        piece_.first = *first;
        index_ = *first + static_cast<std::int64_t>(to_ - from_);
        return true;
      }
      clock_.reset();  // the rows do not keep to it: their own times from here on
    }
    piece_.times_ns = std::span<const std::int64_t>(times_ns).subspan(from_, to_ - from_);
    return true;
  }

  void tell_alike() {
    if (alike_rows_ == 0 || alike_told_) return;
    alike_told_ = true;
    remarks_.push_back(
        fmt::format("{} rows print the time of the row before: they are kept in their "
                    "order, evenly within the time's resolution",
                    alike_rows_));
  }

  // Of a column that most rows leave empty: its own values at their own times. False: none here.
  bool only_filled(SampleBlock& block) {
    filled_.clear();
    filled_ns_.clear();
    for (std::size_t k = 0; k < block.values.size(); ++k)
      if (!std::isnan(block.values[k])) {
        filled_.push_back(block.values[k]);
        filled_ns_.push_back(here_->times_ns[from_ + k]);
      }
    block.values = filled_;
    block.times_ns = filled_ns_;
    block.clock = {};
    block.first = 0;
    return !filled_.empty();
  }

  TableLayout layout_;
  std::unique_ptr<TableLines> table_;
  LineReader& lines_;
  bool timed_, plain_ = false, ended_ = false;
  std::optional<SampleClock> clock_;
  RowTimes times_;
  std::vector<RowValues> values_;
  std::vector<SourceChannel> channels_;
  std::string_view line_;
  Cells cells_;
  std::vector<float> row_;
  std::size_t least_cell_ = 6;  // characters of a cell, its end among them: room is made by it
  int passes_ = 0, to_pass_ = 0;
  std::int64_t per_second_ = 1;  // of the time's unit, where rows are plain
  int unlike_ = 0;               // times that a part was not plain
  Rows single_;                  // read row by row
  Rows alike_;                   // behind them, with the time of the last
  std::uint64_t alike_rows_ = 0;
  std::int64_t alike_step_ns_ = 0, last_resolution_ns_ = 1;
  bool alike_told_ = false;
  std::vector<Rows> parts_;  // plain ones: so many are ready, and so many of these handed out
  std::size_t ready_ = 0, handed_ = 0;
  std::vector<std::string_view> texts_;  // theirs
  const Rows* here_ = nullptr;           // of all these, those being handed out: [from_, to_)
  std::int64_t resolution_ns_ = 1, last_ns_ = 0, index_ = 0;
  std::uint64_t rows_ = 0;
  SampleBlock piece_;
  std::size_t from_ = 0, to_ = 0, handing_ = 0;
  bool last_of_stretch_ = false;
  std::vector<float> filled_;
  std::vector<std::int64_t> filled_ns_;
  std::string damage_;
  std::vector<std::string> remarks_;
  std::optional<Worker> hand_;  // last: what it uses outlives it
};

}  // namespace

std::unique_ptr<Source> open_wide_table(std::unique_ptr<TableLines> lines, TableLayout layout) {
  return std::make_unique<WideTable>(std::move(lines), std::move(layout));
}

}  // namespace airlatch
