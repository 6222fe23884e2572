// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/delimited_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <vector>

#include "plugin/sources/line_reader.hpp"
#include "plugin/sources/plain_rows.hpp"
#include "plugin/sources/sample_rate.hpp"
#include "plugin/sources/text_cells.hpp"
#include "plugin/sources/units.hpp"
#include "plugin/system/input_error.hpp"
#include "plugin/system/worker.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kMostColumns = 1024;
constexpr std::size_t kStretch = 1024;   // rows handed out at a time
constexpr std::size_t kSingle = 64;      // rows read one by one before plain ones are tried
constexpr std::size_t kPart = 1U << 17;  // bytes of plain rows read by one thread at a time
constexpr int kMostUnlike = 8;
constexpr std::size_t kLook = 64;  // rows that must keep to a period before it is believed

bool is_time_name(std::string name) {
  std::transform(name.begin(), name.end(), name.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return name == "time" || name == "t" || name == "time_s" || name == "timestamp";
}

void split(std::string_view line, char separator, std::vector<std::string_view>& cells) {
  cells.clear();
  std::size_t at = 0;
  while (true) {
    std::size_t end;
    if (at < line.size() && line[at] == '"') {  // a quoted cell may hold the separator
      end = line.find('"', at + 1);
      end = end == std::string_view::npos ? line.size() : line.find(separator, end);
    } else {
      end = line.find(separator, at);
    }
    if (end == std::string_view::npos) end = line.size();
    cells.push_back(line.substr(at, end - at));
    if (end == line.size()) return;
    at = end + 1;
  }
}

// The clock that times t[k] keep to within their printed resolution: of the integer rates that fit,
// the roundest; else a whole number of nanoseconds.
std::optional<SampleClock> even_clock(const std::vector<std::int64_t>& t, std::int64_t resolution) {
  if (t.size() < 3) return std::nullopt;
  const auto n = static_cast<std::int64_t>(t.size() - 1);
  const std::int64_t tolerance = resolution / 2 + 1;
  const auto fits = [&](const SampleClock& clock) {
    for (std::int64_t k = 0; k <= n; ++k)
      if (std::abs(since_ns(clock.time_ns(k), t[static_cast<std::size_t>(k)])) > tolerance)
        return false;
    return true;
  };
  const double span = static_cast<double>(t.back() - t.front());
  const double least = static_cast<double>(n) * 1e9 / (span + static_cast<double>(2 * tolerance));
  const double most =
      static_cast<double>(n) * 1e9 / std::max(1.0, span - static_cast<double>(2 * tolerance));
  for (std::int64_t round = 1'000'000'000; round >= 1; round /= 10) {
    const auto middle = static_cast<std::int64_t>(
        std::llround(static_cast<double>(n) * 1e9 / span / static_cast<double>(round)));
    const std::int64_t rate = middle * round;
    if (rate < 1 || static_cast<double>(rate) < least || static_cast<double>(rate) > most) continue;
    const auto clock = SampleClock::of_rate(rate, 1, t.front());
    if (fits(clock)) return clock;
  }
  const std::int64_t whole = (t.back() - t.front() + n / 2) / n;
  // A period that is a whole number of printed steps, then any.
  for (const std::int64_t period : {(whole + resolution / 2) / resolution * resolution, whole}) {
    if (period <= 0) continue;
    const SampleClock clock{t.front(), period, 1};
    if (fits(clock)) return clock;
  }
  return std::nullopt;
}

class DelimitedText final : public Source {
 public:
  DelimitedText(const std::string& path, const OpenOptions& options) : lines_(path) {
    find_columns(options);
    if (!time_column_) return;
    // Rows are looked at before the first is handed out; a pipe is not waited for.
    if (lines_.regular())
      while (single_.n < kLook && read_row()) {
      }
    else
      read_row();
    if (single_.n == 0 && !damage_.empty()) throw_cut();
    if (single_.n == 0) refuse("", "it holds no samples", "record it again");
    if (lines_.regular()) clock_ = even_clock(single_.times_ns, resolution_ns_);
    if (clock_)
      for (SourceChannel& channel : channels_) channel.clock = *clock_;
  }

  [[nodiscard]] const std::vector<SourceChannel>& channels() const override { return channels_; }

  bool next(SampleBlock& block) override {
    while (handing_ == channels_.size()) {
      if (!gather()) return false;
      handing_ = 0;
    }
    block = piece_;
    block.channel = handing_;
    block.values = std::span<const float>(here_->values[handing_]).subspan(from_, to_ - from_);
    ++handing_;
    if (handing_ == channels_.size()) from_ = to_;
    return true;
  }

  [[nodiscard]] std::string damage() const override { return damage_; }
  [[nodiscard]] std::vector<std::string> remarks() const override { return remarks_; }
  [[nodiscard]] double progress() const override { return lines_.progress(); }

 private:
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
  bool stop_at_cell(std::size_t column, const char* is_not, const std::string& mend) {
    constexpr std::size_t kQuoted = 40;
    const std::string_view cell = trimmed_cell(cells_[column]);
    std::size_t end = std::min(cell.size(), kQuoted);
    while (end < cell.size() && end > 0 && (cell[end] & 0xC0) == 0x80) --end;  // whole letters
    return stop(
        place(column),
        fmt::format("'{}{}' {}", cell.substr(0, end), end < cell.size() ? "..." : "", is_not),
        mend);
  }
  [[nodiscard]] std::string place(std::size_t column) const {
    return fmt::format("line {}, column {}", lines_.number(), column + 1);
  }

  bool next_line(std::string_view& line) {
    try {
      return lines_.next(line);
    } catch (const InputError& error) {
      return stop_reading(error);
    }
  }
  bool stop_reading(const InputError& error) {
    if (rows_ == 0 || error.status() != ExitStatus::kUnusableData) throw error;
    ended_ = true;
    damage_ = error.what();
    return false;
  }

  // Skips comments and empty lines.
  bool next_row(std::string_view& line) {
    while (next_line(line)) {
      if (line.find_first_not_of(" \t") == std::string_view::npos) continue;
      if (line.front() == '#') continue;
      if (line.front() == ';' && (separator_ != ';' || time_column_)) continue;
      return true;
    }
    return false;
  }

  void find_columns(const OpenOptions& options) {
    std::string_view line;
    if (!next_row(line)) refuse("", "it holds no rows", "record it again");
    split_first(line);
    const Header header = read_header();
    if (!header.there) {
      first_row_ = line;
      first_row_open_ = lines_.ended_open();
    }
    if (is_time_name(header.names[0]) || (!header.there && looks_like_iso_time(cells_[0])))
      take_time_column(header.units[0]);
    else
      take_rate(options);
    add_channels(header);
    single_.values.resize(channels_.size());
    handing_ = channels_.size();
  }

  // By the first row: what separates cells, and how many there are.
  void split_first(std::string_view line) {
    separator_ = line.find('\t') != std::string_view::npos  ? '\t'
                 : line.find(';') != std::string_view::npos ? ';'
                                                            : ',';
    comma_ = separator_ != ',';
    split(line, separator_, cells_);
    columns_ = cells_.size();
    if (columns_ > kMostColumns)
      refuse(fmt::format("line {}", lines_.number()), fmt::format("{} columns", columns_),
             fmt::format("at most {} can be read: keep the channels you need", kMostColumns));
  }

  struct Header {
    bool there = false;  // the first row is one
    std::vector<std::string> names, units;
  };

  // Names with their units in brackets, or a row of units alone.
  [[nodiscard]] Header read_header() const {
    Header header{.names = std::vector<std::string>(columns_),
                  .units = std::vector<std::string>(columns_)};
    header.there = std::any_of(cells_.begin(), cells_.end(), [&](std::string_view cell) {
      return !parse_value(cell, comma_) && !looks_like_iso_time(cell);
    });
    if (!header.there) return header;
    const bool only_units = std::all_of(cells_.begin(), cells_.end(), [](std::string_view cell) {
      return trimmed_cell(cell).empty() || parse_unit(trimmed_cell(cell));
    });
    for (std::size_t c = 0; c < columns_; ++c) {
      std::string_view cell = trimmed_cell(cells_[c]);
      if (only_units) {
        header.units[c] = cell;
        continue;
      }
      const std::size_t open = cell.find_last_of("([");
      if (open != std::string_view::npos && (cell.back() == ')' || cell.back() == ']')) {
        header.units[c] = trimmed_cell(cell.substr(open + 1, cell.size() - open - 2));
        cell = trimmed_cell(cell.substr(0, open));
      }
      header.names[c] = cell;
    }
    return header;
  }

  void take_time_column(const std::string& unit_text) {
    time_column_ = true;
    if (unit_text.empty()) return;
    const auto unit = parse_unit(unit_text);
    if (!unit || unit->dimension != Dimension::kTime)
      refuse(place(0), fmt::format("'{}' is not a unit of time", unit_text.substr(0, 40)),
             "s, ms and us are known");
    time_unit_s_ = unit->scale;
  }

  void take_rate(const OpenOptions& options) {
    if (options.rate_hz == 0)
      refuse(fmt::format("line {}", lines_.number()),
             "there is no time column: the first is not named time, t, time_s or timestamp",
             "name it, or give the sampling rate with --rate HZ");
    clock_ = clock_of_rate(options.rate_hz, lines_.name(), "--rate");
  }

  void add_channels(const Header& header) {
    const auto nameless = [&](std::size_t column) {
      return header.names[column].empty() && header.units[column].empty();
    };
    // Trailing separators make nameless, empty columns: they are no channels.
    used_columns_ = columns_;
    while (header.there && used_columns_ > 1 && nameless(used_columns_ - 1)) --used_columns_;
    for (std::size_t c = time_column_ ? 1 : 0; c < used_columns_; ++c) {
      SourceChannel channel;
      channel.name = header.names[c];
      if (channel.name.empty()) channel.name = fmt::format("CH{}", c + (time_column_ ? 0 : 1));
      set_unit(channel, header.units[c]);
      if (clock_) channel.clock = *clock_;
      channels_.push_back(channel);
    }
    if (channels_.empty())
      refuse(fmt::format("line {}", lines_.number()), "there is a time column and nothing else",
             "record at least one channel");
  }

  static void set_unit(SourceChannel& channel, const std::string& unit_text) {
    if (unit_text.empty()) return;
    const auto unit = parse_unit(unit_text);
    if (unit && unit->dimension != Dimension::kTime) {
      channel.unit = unit_text;
      channel.unit_scale = unit->scale;
      channel.unit_offset = unit->offset;
    } else {
      channel.name += " (" + unit_text + ")";  // no unit of ours: part of the name
    }
  }

  // Reads one row to the end of the columns; false at the end of the file.
  bool read_row() {
    std::string_view line;
    bool open = false;
    if (first_row_) {
      line = *first_row_;
      open = first_row_open_;
    } else {
      if (ended_ || !next_row(line)) {
        ended_ = true;
        return false;
      }
      open = lines_.ended_open();
    }
    split(line, separator_, cells_);
    while (cells_.size() > columns_ && trimmed_cell(cells_.back()).empty()) cells_.pop_back();
    if (open) return leave_out_last();
    if (cells_.size() < used_columns_ || cells_.size() > columns_)
      return stop(fmt::format("line {}", lines_.number()),
                  fmt::format("{} cells, but the table has {} columns", cells_.size(), columns_),
                  "correct the row or leave the cell empty where a sample is missing");
    if (time_column_ && !read_time()) return false;
    for (std::size_t c = 0; c < channels_.size(); ++c) {
      const auto value = parse_value(cells_[c + shift()], comma_);
      if (!value) {
        if (time_column_) single_.times_ns.pop_back();
        for (std::size_t done = 0; done < c; ++done) single_.values[done].pop_back();
        return stop_at_cell(
            c + shift(), "is not a number",
            comma_ ? "correct the cell or leave it empty"
                   : "correct the cell, leave it empty, or use ; as separator with decimal commas");
      }
      single_.values[c].push_back(
          static_cast<float>(channels_[c].unit_scale * *value + channels_[c].unit_offset));
    }
    if (time_column_) last_ns_ = single_.times_ns.back();
    first_row_.reset();
    ++single_.n;
    ++rows_;
    return true;
  }

  [[nodiscard]] std::size_t shift() const { return time_column_ ? 1 : 0; }

  // A row without its line end may have been cut within its last cell, whose number is then another
  // one: it is told and not used. False.
  bool leave_out_last() {
    ended_ = true;
    bool whole = cells_.size() >= used_columns_ && cells_.size() <= columns_ &&
                 (!time_column_ || parse_time(cells_[0], comma_, time_unit_s_));
    for (std::size_t c = 0; whole && c < channels_.size(); ++c)
      whole = parse_value(cells_[c + shift()], comma_).has_value();
    if (!whole || rows_ == 0)
      cut();
    else
      remarks_.push_back(
          fmt::format("line {}, the last, has no line end: it may be cut short and is not used",
                      lines_.number()));
    return false;
  }

  struct Rows {
    std::vector<std::vector<float>> values;  // a column a channel
    std::vector<std::int64_t> times_ns;
    std::vector<PlainColumn> columns;  // where plain rows go
    std::size_t room = 0;              // for so many rows
    PlainRows plain = {};
    std::size_t n = 0;
  };

  // Rows of plain numbers in rising time, many at once, into parts_, which two threads share.
  // False: the next row is none.
  bool take_plain() {
    if (columns_ != used_columns_ || time_unit_s_ != 1 || first_row_ || ended_) return false;
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
      read_rows(texts_[i], parts_[i], i > 0 ? kAny : rows_ > 0 ? last_ns_ : -1);
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
      if (part.plain.rows == 0 || (time_column_ && rows_ > 0 && part.times_ns[0] <= last_ns_))
        break;
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

  void make_room(Rows& rows, std::size_t characters) {
    rows.room = characters / least_cell_ / columns_ + 1;
    rows.values.resize(channels_.size());
    if (time_column_) rows.times_ns.resize(std::max(rows.room, rows.times_ns.size()));
    rows.columns.clear();
    for (std::size_t c = 0; c < channels_.size(); ++c) {
      rows.values[c].resize(std::max(rows.room, rows.values[c].size()));
      rows.columns.push_back(
          {channels_[c].unit_scale, channels_[c].unit_offset, rows.values[c].data()});
    }
  }

  void read_rows(std::string_view text, Rows& into, std::int64_t after_ns) const {
    into.plain =
        take_plain_rows(text, {.separator = separator_, .comma = comma_, .time = time_column_},
                        into.columns, into.times_ns.data(), after_ns, into.room);
  }

  void take(Rows& rows) {
    const PlainRows& plain = rows.plain;
    rows.n = plain.rows;
    if (time_column_) {
      resolution_ns_ =
          rows_ == 0 ? plain.resolution_ns : std::min(resolution_ns_, plain.resolution_ns);
      last_ns_ = plain.last_ns;
    }
    rows_ += plain.rows;
    lines_.skip(plain.bytes, plain.rows);
  }

  // The next rows, here_; false at the end.
  bool more() {
    from_ = 0;
    if (handed_ < ready_ || (here_ && take_plain())) {
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
    return single_.n > 0;
  }

  bool read_time() {
    const auto time = parse_time(cells_[0], comma_, time_unit_s_);
    if (!time)
      return stop_at_cell(0, "is not a time", "seconds, or ISO 8601 date and time, can be read");
    if (!countable(time->ns))
      return stop_at_cell(0, "is a time more than 126 years from its origin",
                          "times count from the first row, or from 1970");
    if (rows_ > 0 && time->ns == last_ns_)
      return stop(place(0), "the time of the row before again", "write the time with more digits");
    if (rows_ > 0 && time->ns < last_ns_)
      return stop(place(0), "the time goes backwards",
                  "sort the rows, or split the file where the clock was set back");
    resolution_ns_ =
        rows_ == 0 ? time->resolution_ns : std::min(resolution_ns_, time->resolution_ns);
    single_.times_ns.push_back(time->ns);
    return true;
  }

  void cut() {
    damage_ = InputError(ExitStatus::kUnusableData, lines_.name(),
                         fmt::format("line {}", lines_.number()), "the last row is cut short",
                         "what stands before it was decoded; copy the file again for the rest")
                  .what();
  }

  // The next stretch that shares one clock, or has its own times.
  bool gather() {
    if ((!here_ || from_ == here_->n) && !more()) {
      if (rows_ == 0) {
        if (!damage_.empty()) throw_cut();
        refuse("", "it holds no samples", "record it again");
      }
      return false;
    }
    to_ = std::min(here_->n, from_ + kStretch);
    piece_ = {};
    if (!time_column_) {
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

  LineReader lines_;
  char separator_ = 0;
  bool comma_ = false, time_column_ = false, ended_ = false;
  double time_unit_s_ = 1;
  std::size_t columns_ = 0, used_columns_ = 0;
  std::vector<std::string_view> cells_;
  std::size_t least_cell_ = 6;  // characters of a cell, its end among them: room is made by it
  int unlike_ = 0;              // times that a part was not plain
  std::optional<std::string> first_row_;  // a file without header
  bool first_row_open_ = false;
  std::vector<SourceChannel> channels_;
  Rows single_;              // read row by row
  std::vector<Rows> parts_;  // plain ones: so many are ready, and so many of these handed out
  std::size_t ready_ = 0, handed_ = 0;
  std::vector<std::string_view> texts_;  // theirs
  const Rows* here_ = nullptr;           // of all these, those being handed out: [from_, to_)
  std::int64_t resolution_ns_ = 1, last_ns_ = 0, index_ = 0;
  std::uint64_t rows_ = 0;
  std::optional<SampleClock> clock_;
  SampleBlock piece_;
  std::size_t from_ = 0, to_ = 0, handing_ = 0;
  std::string damage_;
  std::vector<std::string> remarks_;
  std::optional<Worker> hand_;  // last: what it uses outlives it
};

}  // namespace

std::unique_ptr<Source> open_delimited_text(const std::string& path, const OpenOptions& options) {
  return std::make_unique<DelimitedText>(path, options);
}

}  // namespace airlatch
