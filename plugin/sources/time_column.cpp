// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/time_column.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <charconv>
#include <cmath>

#include "plugin/sources/row_times.hpp"
#include "plugin/sources/text_words.hpp"
#include "plugin/sources/units.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

constexpr double kSpreadsheetEpoch_days = 25569;  // 1970-01-01, counted from 1899-12-30
constexpr std::size_t kManyRows = 1500;           // a count by ones is no milliseconds below

std::string unit_words(std::int64_t unit_ns) {
  switch (unit_ns) {
    case 1:
      return "ns";
    case 1'000:
      return "us";
    case 1'000'000:
      return "ms";
    case kSecond_ns:
      return "s";
    case 60 * kSecond_ns:
      return "min";
    case 3600 * kSecond_ns:
      return "h";
    default:
      break;
  }
  return "d";
}

std::optional<std::int64_t> time_unit_ns(const std::string& text) {
  const auto unit = parse_unit(text);
  if (!unit || unit->dimension != Dimension::kTime) return std::nullopt;
  return std::llround(unit->scale * 1e9);
}

std::vector<double> steps_of(const std::vector<double>& values) {
  std::vector<double> out;
  for (std::size_t k = 1; k < values.size(); ++k)
    if (values[k] > values[k - 1]) out.push_back(values[k] - values[k - 1]);
  return out;
}

double median_of(std::vector<double> values) {
  if (values.empty()) return 0;
  const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
  std::nth_element(values.begin(), middle, values.end());
  return *middle;
}

bool is_whole(const std::vector<double>& values) {
  return std::all_of(values.begin(), values.end(), [](double v) { return v == std::floor(v); });
}

bool in_even_steps(const std::vector<double>& values) {
  const std::vector<double> steps = steps_of(values);
  if (steps.size() + 1 != values.size() || steps.size() < 2) return false;
  const double middle = median_of(steps);
  const auto near = std::count_if(steps.begin(), steps.end(), [&](double step) {
    return step > 0.5 * middle && step < 2 * middle;
  });
  return static_cast<std::size_t>(near) * 10 >= steps.size() * 9;
}

std::string order_words(DateOrder order) {
  return order == DateOrder::DAY_MONTH_YEAR   ? "day, month, year"
         : order == DateOrder::MONTH_DAY_YEAR ? "month, day, year"
                                              : "year, month, day";
}

}  // namespace

void TimeChooser::refuse(const std::string& place, const std::string& what,
                         const std::string& mend) const {
  throw InputError(ExitStatus::kUnusableData, question_.file, place, what, mend);
}

std::string TimeChooser::place(std::size_t column) const {
  return fmt::format("line {}, column {}", question_.head[question_.table.rows.front()].number,
                     column + 1);
}

std::string TimeChooser::first_cell(std::size_t column) const {
  Cells cells;
  split_cells(question_.head[question_.table.rows.front()].text, question_.table.separator, cells);
  return column < cells.size() ? quoted(cells[column]) : "";
}

std::string TimeChooser::shown(std::size_t column) const {
  const std::string& name = question_.names[column].written;
  return name.empty() ? fmt::format("column {}", column + 1)
                      : fmt::format("column {} ('{}')", column + 1, quoted(name));
}

// The rig's time_column, by name or by number.
std::optional<std::size_t> TimeChooser::asked_column() const {
  const std::string& asked = question_.options.text.time_column;
  if (asked.empty()) return std::nullopt;
  std::string known;
  for (std::size_t c = 0; c < question_.names.size(); ++c) {
    const ColumnName& name = question_.names[c];
    for (const std::string& own : {name.written, name.name})
      if (!own.empty() && (own == asked || folded(own) == folded(asked))) return c;
    constexpr std::size_t kShown = 8;
    if (c < kShown)
      known += (c > 0 ? ", " : "") +
               (name.written.empty() ? std::to_string(c + 1) : quoted(name.written));
  }
  std::size_t number = 0;
  const char* const to = asked.data() + asked.size();
  if (std::from_chars(asked.data(), to, number).ptr == to && number >= 1 &&
      number <= question_.names.size())
    return number - 1;
  refuse(fmt::format("line {}", question_.head[question_.table.rows.front()].number),
         fmt::format("it has no column '{}', which the rig names as its time", quoted(asked)),
         fmt::format("the columns are: {}; a number counts them from 1", known));
}

void TimeChooser::add_moments() {
  const auto& facts = question_.facts.columns;
  const auto asked = asked_column();
  std::optional<std::size_t> clock;
  for (std::size_t c = 0; c < facts.size(); ++c)
    if (facts[c].only_clocks() && !clock) clock = c;
  for (std::size_t c = 0; c < facts.size(); ++c) {
    const bool mostly = facts[c].moments > 0 && facts[c].moments * 10 >= facts[c].cells * 9;
    if (!mostly || (asked && *asked != c)) continue;
    Candidate candidate;
    candidate.column = {.form = TimeColumn::Form::kMoment, .column = c};
    candidate.named = true;
    if (facts[c].only_dates() && clock) candidate.column.clock = *clock;
    if (facts[c].only_clocks() && !asked &&
        std::any_of(facts.begin(), facts.end(), [](const auto& f) { return f.only_dates(); }))
      continue;  // it belongs to the date
    const std::size_t last = candidate.column.clock.value_or(c);
    if (last + 1 < facts.size() && facts[last + 1].only_half_days())
      candidate.column.half_day = last + 1;
    candidates_.push_back(candidate);
  }
}

bool TimeChooser::is_count(std::size_t c, bool& named) const {
  const ColumnFacts& facts = question_.facts.columns[c];
  if (facts.numbers == 0 || facts.numbers * 10 < facts.cells * 9) return false;
  const ColumnName& name = question_.names[c];
  const std::string words = folded(name.name), written = folded(name.written);
  const bool timed = time_unit_ns(name.unit).has_value();
  named = means(words, Meaning::kTime) || means(written, Meaning::kTime) ||
          (timed && name.name.empty()) || means(words, Meaning::kDate);
  if (named) return true;
  if (!name.name.empty()) return false;
  const auto measured = std::count_if(
      question_.facts.columns.begin(), question_.facts.columns.end(),
      [](const ColumnFacts& column) { return column.numbers + column.overloads > 0; });
  if (measured < 2) return false;
  // Nobody named it: the first column of numbers, where it rises in nearly equal steps.
  for (std::size_t before = 0; before < c; ++before)
    if (2 * question_.facts.columns[before].numbers > question_.facts.rows) return false;
  return in_even_steps(numbers(c));
}

std::vector<double> TimeChooser::numbers(std::size_t column) const {
  std::vector<double> out;
  Cells cells;
  for (const std::size_t k : question_.table.rows) {
    split_cells(question_.head[k].text, question_.table.separator, cells);
    if (column >= cells.size()) continue;
    const auto value = read_value(cells[column], question_.layout.about[column].form);
    if (value && std::isfinite(value->value)) out.push_back(value->value);
  }
  return out;
}

void TimeChooser::add_counts() {
  const auto asked = asked_column();
  for (std::size_t c = 0; c < question_.facts.columns.size(); ++c) {
    bool named = false;
    if (asked ? *asked != c || question_.facts.columns[c].numbers == 0 : !is_count(c, named))
      continue;
    Candidate candidate;
    candidate.named = named || asked;
    candidate.column = {.form = TimeColumn::Form::kCount, .column = c};
    candidate.column.number = question_.layout.about[c].form;
    candidate.values = numbers(c);
    candidates_.push_back(candidate);
  }
}

void TimeChooser::look_at(Candidate& candidate) {
  const std::vector<double>& values = candidate.values;
  std::size_t up = 0;
  for (std::size_t k = 1; k < values.size(); ++k) {
    up += values[k] > values[k - 1] ? 1 : 0;
    candidate.falls |= values[k] < values[k - 1];
  }
  candidate.rises =
      values.size() < 2 ? 1 : static_cast<double>(up) / static_cast<double>(values.size() - 1);
}

// The one whose times part the rows best; of equal ones the finer, then the first.
TimeChooser::Candidate* TimeChooser::best() {
  Candidate* out = nullptr;
  for (Candidate& candidate : candidates_) {
    look_at(candidate);
    if (!out) {
      out = &candidate;
      continue;
    }
    const auto rank = [](const Candidate& c) {
      return std::make_tuple(c.named, !c.falls, std::round(c.rises * 20));
    };
    if (rank(candidate) > rank(*out)) out = &candidate;
  }
  return out;
}

void TimeChooser::choose() {
  add_moments();
  add_counts();
  for (Candidate& candidate : candidates_) {
    if (candidate.column.form != TimeColumn::Form::kMoment) continue;
    settle_order(candidate.column);
    RowTimes times(candidate.column);
    Cells cells;
    for (const std::size_t k : question_.table.rows) {
      split_cells(question_.head[k].text, question_.table.separator, cells);
      if (const auto time = times.read(cells))
        candidate.values.push_back(static_cast<double>(time->ns) * 1e-9);
    }
  }
  Candidate* const chosen = best();
  if (!chosen) {
    if (const auto asked = asked_column())
      refuse(place(*asked), fmt::format("'{}' is not a time", first_cell(*asked)),
             "name another column in the rig's text { time_column }");
    return;
  }
  if (chosen->column.form == TimeColumn::Form::kCount)
    settle_unit(*chosen);
  else
    tell(*chosen, chosen->column.clock ? "a date and a clock time" : "its cells");
  question_.layout.time = chosen->column;
  for (const Candidate& candidate : candidates_)
    if (&candidate != chosen && candidate.named && !candidate.falls && candidate.rises > 0.5) {
      const std::string name = folded(question_.names[candidate.column.column].name);
      if (name.size() < 3) continue;  // "x" and "t" may be anything beside a time of their own
      others_[candidate.column.column] = "another time";
      if (candidate.column.clock) others_[*candidate.column.clock] = "another time";
      if (candidate.column.half_day) others_[*candidate.column.half_day] = "another time";
    }
}

void TimeChooser::settle_order(TimeColumn& column) {
  std::vector<Moment> moments;
  unsigned orders = kAnyOrder;
  Cells cells;
  const auto take = [&](const Cells& row) {
    if (column.column >= row.size()) return;
    const auto moment = parse_moment(row[column.column]);
    if (!moment || moment->mark == 0) return;
    if ((orders & orders_of(*moment)) != 0) orders &= orders_of(*moment);
    moments.push_back(*moment);
  };
  for (const std::size_t k : question_.table.rows) {
    split_cells(question_.head[k].text, question_.table.separator, cells);
    take(cells);
  }
  if (moments.empty()) return;
  const DateOrder asked = question_.options.text.date_order;
  if (asked != DateOrder::UNSPECIFIED) {
    column.order = asked;
    return;  // a date that does not fit is told where it stands
  }
  const auto first_of = [](unsigned set) { return static_cast<DateOrder>(std::countr_zero(set)); };
  const auto one_left = [&] { return std::popcount(orders) == 1; };
  // Whether the open orders give the same days.
  const auto no_matter = [&] {
    return std::all_of(moments.begin(), moments.end(), [&](const Moment& moment) {
      const auto days = days_of(moment, first_of(orders));
      for (unsigned rest = orders; rest != 0; rest &= rest - 1)
        if (days_of(moment, first_of(rest)) != days) return false;
      return true;
    });
  };
  // A recording goes from one day to the next.
  const auto by_progress = [&] {
    for (unsigned rest = orders; rest != 0; rest &= rest - 1) {
      std::int64_t most = 0;
      for (std::size_t k = 1; k < moments.size(); ++k)
        most = std::max(most, std::abs(days_of(moments[k], first_of(rest)).value_or(0) -
                                       days_of(moments[k - 1], first_of(rest)).value_or(0)));
      constexpr std::int64_t kLeastJump_days = 20;
      if (most >= kLeastJump_days) orders &= ~bit_of(first_of(rest));
    }
  };
  if (!one_left() && !question_.whole && question_.walk)
    question_.walk([&](const Cells& row, std::uint64_t) {
      take(row);
      constexpr std::size_t kMost = 100'000;
      if (moments.size() > kMost) moments.resize(kMost / 2);
      return !one_left();
    });
  if (!one_left()) {
    const unsigned before = orders;
    by_progress();
    if (orders == 0) orders = before;
  }
  if (!one_left() && !no_matter())
    refuse(place(column.column),
           fmt::format("which is the day in '{}' cannot be told: no date of the file settles it",
                       first_cell(column.column)),
           "say in the rig: text { date_order: DAY_MONTH_YEAR }, or MONTH_DAY_YEAR or "
           "YEAR_MONTH_DAY");
  column.order = first_of(orders);
}

std::optional<TimeChooser::Hint> TimeChooser::by_rate(const Candidate& candidate, double period_s,
                                                      const std::string& by) const {
  const std::vector<double> steps = steps_of(candidate.values);
  if (steps.empty()) return std::nullopt;
  const double step = (candidate.values.back() - candidate.values.front()) /
                      static_cast<double>(candidate.values.size() - 1);
  for (const double middle : {median_of(steps), step})
    for (const std::int64_t unit : {kSecond_ns, std::int64_t{1'000'000}, std::int64_t{1'000},
                                    std::int64_t{1}, 60 * kSecond_ns, 3600 * kSecond_ns}) {
      const double there_s = middle * static_cast<double>(unit) * 1e-9;
      if (std::abs(there_s - period_s) < 0.02 * period_s) return Hint{unit, by};
    }
  return std::nullopt;
}

std::vector<TimeChooser::Hint> TimeChooser::hints(const Candidate& candidate) const {
  std::vector<Hint> out;
  const std::size_t c = candidate.column.column;
  const ColumnName& name = question_.names[c];
  if (!name.unit.empty()) {
    const auto unit = time_unit_ns(name.unit);
    if (!unit && name.unit_by == ColumnName::By::kName && candidate.named &&
        !is_other_unit(name.unit))
      refuse(
          place(c), fmt::format("'{}' is not a unit of time", quoted(name.unit)),
          "s, ms, us, ns, min, h and d are known: say in the rig, for example: text { time_unit: "
          "\"ms\" }");
    if (unit)
      out.push_back(
          {*unit, name.unit_by == ColumnName::By::kRow ? "the row of units" : "its name"});
  }
  if (question_.stated.time_unit_ns)
    out.push_back({*question_.stated.time_unit_ns, "'" + quoted(question_.stated.unit_line) + "'"});
  if (question_.stated.period_s)
    if (const auto hint = by_rate(candidate, *question_.stated.period_s,
                                  "'" + quoted(question_.stated.period_line) + "'"))
      out.push_back(*hint);
  if (question_.options.rate_hz > 0)
    if (const auto hint = by_rate(candidate, 1 / question_.options.rate_hz, "--rate"))
      out.push_back(*hint);
  for (const Candidate& other : candidates_) {
    if (other.column.form != TimeColumn::Form::kMoment || other.values.size() < 3) continue;
    const double span_s = other.values.back() - other.values.front();
    if (!(span_s > 2)) continue;
    const double span = candidate.values.back() - candidate.values.front();
    for (const std::int64_t unit : {kSecond_ns, std::int64_t{1'000'000}, std::int64_t{1'000},
                                    std::int64_t{1}, 60 * kSecond_ns, 3600 * kSecond_ns}) {
      const double there_s = span * static_cast<double>(unit) * 1e-9;
      if (std::abs(there_s - span_s) <= 2 + 0.02 * span_s) {
        out.push_back({unit, shown(other.column.column)});
        break;
      }
    }
  }
  return out;
}

bool TimeChooser::has_decimals(std::size_t column, std::size_t least) const {
  const std::string cell = first_cell(column);
  const std::size_t mark = cell.find_last_of(".,");
  return mark != std::string::npos && cell.size() - mark - 1 >= least;
}

// A count since 1970 tells its unit by its size.
std::optional<TimeChooser::Hint> TimeChooser::by_size(const Candidate& candidate) const {
  const double first = candidate.values.front();
  if (first_cell(candidate.column.column).find_first_of("eE") != std::string::npos)
    return std::nullopt;  // no clock writes so
  for (const auto& [unit, second] : {std::pair{kSecond_ns, 1e0},
                                     {std::int64_t{1'000'000}, 1e3},
                                     {std::int64_t{1'000}, 1e6},
                                     {std::int64_t{1}, 1e9}})
    if (first >= 5e8 * second && first < 5e9 * second)
      return Hint{unit, "its size, counted since 1970"};
  return std::nullopt;
}

std::optional<TimeChooser::Hint> TimeChooser::by_steps(const Candidate& candidate) const {
  const double step = median_of(steps_of(candidate.values));
  const Hint seconds{kSecond_ns, "assumed"};
  constexpr std::size_t kFew = 8;  // rows that are no recording in milliseconds
  if (step < (candidate.values.size() < kFew ? 2.5 : 1.5) &&
      (!is_whole(candidate.values) || !has_many_rows()))
    return seconds;
  return std::nullopt;
}

// So many that a count by ones may be one of milliseconds.
bool TimeChooser::has_many_rows() const {
  std::size_t rows = question_.table.rows.size();
  if (rows >= kManyRows || question_.whole) return rows >= kManyRows;
  if (!question_.walk) return true;
  rows = 0;
  question_.walk([&](const Cells&, std::uint64_t) { return ++rows < kManyRows; });
  return rows >= kManyRows;
}

void TimeChooser::settle_unit(Candidate& candidate) {
  TimeColumn& column = candidate.column;
  const std::string& rig = question_.options.text.time_unit;
  if (!rig.empty()) {
    const auto unit = time_unit_ns(rig);
    if (!unit)
      refuse("", fmt::format("the rig's time_unit '{}' is not a unit of time", quoted(rig)),
             "s, ms, us, ns, min, h and d are known");
    column.unit_ns = *unit;
    return tell(candidate, "the rig");
  }
  if (candidate.values.empty()) return;
  const std::vector<Hint> all = hints(candidate);
  for (const Hint& hint : all)
    if (hint.unit_ns != all.front().unit_ns)
      ask_unit(candidate,
               fmt::format("{} says {}, but {} says {}", all.front().by,
                           unit_words(all.front().unit_ns), hint.by, unit_words(hint.unit_ns)));
  // Days, as spreadsheets count them: 20000 to 80000 with the day's part behind the mark.
  const std::string words = folded(question_.names[column.column].name);
  const double first = candidate.values.front();
  const bool dated = means(words, Meaning::kDate) || words.find("serial") != std::string::npos;
  const bool days = first > 20'000 && first < 80'000 && !is_whole(candidate.values);
  if (days && (all.empty() ? dated : all.front().unit_ns == kDay_ns)) {
    column.unit_ns = kDay_ns;
    column.origin_ns = static_cast<std::int64_t>(kSpreadsheetEpoch_days) * kDay_ns;
    return tell(candidate, "days as spreadsheets count them");
  }
  if (days && all.empty() && median_of(steps_of(candidate.values)) < 0.01 &&
      has_decimals(column.column, 5))
    ask_unit(candidate, "days of a spreadsheet (d) look so, and seconds");
  std::optional<Hint> hint = all.empty() ? by_size(candidate) : std::optional(all.front());
  if (!hint) hint = by_steps(candidate);
  if (!hint)
    ask_unit(candidate, "neither a name, a row of units, a comment nor a stated rate tells it");
  column.unit_ns = hint->unit_ns;
  tell(candidate, hint->by);
}

void TimeChooser::ask_unit(const Candidate& candidate, const std::string& why) const {
  const std::size_t c = candidate.column.column;
  const double step = median_of(steps_of(candidate.values));
  refuse(
      place(c),
      fmt::format("the unit of the times is open ('{}', mostly in steps of {:g}): {}",
                  first_cell(c), step, why),
      candidate.named
          ? std::string("say in the rig: text { time_unit: \"ms\" } (or s, us, ns, min, h, d)")
          : fmt::format("say in the rig: text {{ time_column: \"{}\" time_unit: \"s\" }} (or ms, "
                        "us, ns, min, h)",
                        c + 1));
}

void TimeChooser::tell(const Candidate& candidate, const std::string& by) {
  const TimeColumn& column = candidate.column;
  std::string where = shown(column.column);
  if (column.clock) where += " with " + shown(*column.clock);
  if (column.form == TimeColumn::Form::kMoment) {
    const ColumnFacts& facts = question_.facts.columns[column.column];
    told_ = facts.dates == 0
                ? fmt::format("times: {}, clock times", where)
                : fmt::format("times: {}, dates in the order {}", where, order_words(column.order));
    return;
  }
  const double step_s =
      median_of(steps_of(candidate.values)) * static_cast<double>(column.unit_ns) * 1e-9;
  told_ = fmt::format("times: {}, in {} ({}), mostly {:.6g} s apart", where,
                      unit_words(column.unit_ns), by, step_s);
  if (!candidate.named)
    told_ += question_.headed
                 ? "; it has no name and rises evenly"
                 : "; there is no header: it is taken for the time since it rises evenly";
}

std::vector<std::size_t> TimeChooser::rising() const {
  std::vector<std::size_t> out;
  for (std::size_t c = 0; c < question_.facts.columns.size(); ++c) {
    const ColumnFacts& facts = question_.facts.columns[c];
    if (facts.numbers < 3 || !facts.only_numbers()) continue;
    if (means(folded(question_.names[c].name), Meaning::kIndex) && facts.counts_rows) continue;
    const std::vector<double> values = numbers(c);
    if (steps_of(values).size() + 1 == values.size()) out.push_back(c);
  }
  return out;
}

void TimeChooser::refuse_without_time() const {
  for (std::size_t c = 0; c < question_.names.size(); ++c)
    if (means(folded(question_.names[c].name), Meaning::kTime) &&
        question_.facts.columns[c].texts > 0)
      refuse(place(c), fmt::format("'{}' is not a time", first_cell(c)),
             "seconds, clock times, dates, and ISO 8601 can be read");
  if (const auto rises = rising(); !rises.empty()) {
    const std::size_t c = rises.front();
    refuse(
        place(c),
        fmt::format("no column is named as the time; {} only rises ('{}' first)", shown(c),
                    first_cell(c)),
        fmt::format("if it is the time, say so in the rig: text {{ time_column: \"{}\" time_unit: "
                    "\"s\" }}",
                    c + 1));
  }
  refuse(place(0),
         fmt::format("there is no time column: '{}' and its row hold no time, and none is named so",
                     first_cell(0)),
         "name the time's column in the rig (text { time_column: \"...\" }), or give the sampling "
         "rate with --rate HZ");
}

}  // namespace airlatch
