// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/row_times.hpp"

namespace airlatch {

std::optional<ParsedTime> RowTimes::read(const Cells& cells) {
  if (column_.column >= cells.size()) return std::nullopt;
  if (column_.form == TimeColumn::Form::kMoment) return read_moment(cells);
  auto time = parse_count(cells[column_.column], column_.number, column_.unit_ns);
  if (!time) {  // a date where numbers were
    return column_.unit_ns == kSecond_ns ? parse_iso_time(cells[column_.column]) : std::nullopt;
  }
  time->ns -= column_.origin_ns;
  return time;
}

std::optional<ParsedTime> RowTimes::read_moment(const Cells& cells) {
  auto moment = parse_moment(cells[column_.column]);
  if (!moment) return std::nullopt;
  if (column_.clock) {
    if (*column_.clock >= cells.size()) return std::nullopt;
    const auto clock = parse_moment(cells[*column_.clock]);
    if (!clock || !clock->clock || clock->mark != 0) return std::nullopt;
    moment->clock = true;
    moment->of_day_ns = clock->of_day_ns;
    moment->resolution_ns = clock->resolution_ns;
    moment->half_day = clock->half_day;
    moment->zone_min = clock->zone_min;
  }
  if (column_.half_day &&
      (*column_.half_day >= cells.size() || !add_half_day(*moment, cells[*column_.half_day])))
    return std::nullopt;
  std::int64_t ns = moment->of_day_ns;
  if (moment->mark != 0) {
    const auto days = days_of(*moment, column_.order);
    constexpr std::int64_t kMostDays = 100'000;
    if (!days) return std::nullopt;
    if (*days > kMostDays || *days < -kMostDays)
      return ParsedTime{*days < 0 ? -kMostDays * kDay_ns : kMostDays * kDay_ns, kDay_ns};
    ns += *days * kDay_ns - moment->zone_min.value_or(0) * 60 * kSecond_ns;
    return ParsedTime{ns, moment->resolution_ns};
  }
  const std::int64_t turn_ns = moment->hours ? kDay_ns : 3600 * kSecond_ns;
  ns += turns_ns_;
  if (last_ns_ && ns < *last_ns_ - turn_ns / 2) {
    turns_ns_ += turn_ns;
    ns += turn_ns;
  }
  last_ns_ = ns;
  return ParsedTime{ns, moment->resolution_ns};
}

}  // namespace airlatch
