// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/text_times.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>

#include "plugin/sources/text_words.hpp"

namespace airlatch {
namespace {

__extension__ using Wide = __int128;  // digits times the unit do not fit 64 bits
// Times beyond this are this: still a time, which the reader refuses for what it is.
constexpr std::int64_t kMost_ns = 9'000'000'000'000'000'000;

bool is_digit(char c) { return c >= '0' && c <= '9'; }
bool is_letter(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || static_cast<unsigned char>(c) >= 0x80;
}

// The number as digits * 10^-decimals.
struct Decimal {
  std::uint64_t digits = 0;
  int decimals = 0;
  bool negative = false, beyond = false;  // more than 19 digits stand before the mark
};

std::optional<Decimal> parse_decimal(std::string_view text, const NumberForm& form) {
  Decimal out;
  std::size_t at = 0;
  int kept = 0;
  bool fraction = false, seen = false;
  if (at < text.size() && (text[at] == '-' || text[at] == '+')) out.negative = text[at++] == '-';
  for (; at < text.size(); ++at) {
    const char c = text[at];
    if (is_digit(c)) {
      seen = true;
      if (kept < 19) {
        out.digits = out.digits * 10 + static_cast<std::uint64_t>(c - '0');
        if (out.digits > 0) ++kept;
        if (fraction) ++out.decimals;
      } else if (!fraction) {
        out.beyond = true;
      }
    } else if (c == form.decimal && !fraction) {
      fraction = true;
    } else if (c != form.thousands || fraction || !seen) {
      break;
    }
  }
  if (!seen) return std::nullopt;
  if (at < text.size() && (text[at] == 'e' || text[at] == 'E')) {
    bool down = false;
    int power = 0;
    std::size_t digits = 0;
    if (++at < text.size() && (text[at] == '-' || text[at] == '+')) down = text[at++] == '-';
    for (; at < text.size() && is_digit(text[at]) && digits < 4; ++at, ++digits)
      power = power * 10 + (text[at] - '0');
    if (digits == 0) return std::nullopt;
    out.decimals += down ? power : -power;
  }
  if (at != text.size()) return std::nullopt;
  return out;
}

int number_at(std::string_view text, std::size_t& at, int& digits) {
  int value = 0;
  digits = 0;
  for (; at < text.size() && is_digit(text[at]) && digits < 9; ++at, ++digits)
    value = value * 10 + (text[at] - '0');
  return value;
}

// A moment's text, read from its front.
class MomentReader {
 public:
  explicit MomentReader(std::string_view text) : text_(text) {}
  std::optional<Moment> read() {
    while (at_ < text_.size()) {
      const char c = text_[at_];
      const bool fits = is_digit(c) ? number() : is_letter(c) ? word() : mark();
      if (!fits) return std::nullopt;
    }
    if (groups_ != 0 && groups_ != 3) return std::nullopt;
    if (groups_ == 0 && !out_.clock) return std::nullopt;
    if (groups_ == 3 && (out_.mark == 0 || orders_of(out_) == 0)) return std::nullopt;
    if (half_ != 0 && !halve()) return std::nullopt;
    return out_;
  }

 private:
  bool number() {
    std::size_t end = at_;
    while (end < text_.size() && is_digit(text_[end])) ++end;
    const bool colon = end + 1 < text_.size() && text_[end] == ':' && is_digit(text_[end + 1]);
    if (colon && !out_.clock) return clock();
    if (out_.clock && groups_ != 2) return false;  // but a year behind the clock
    if (end - at_ == 8 && groups_ == 0) return packed_date();
    if (end - at_ == 6 && groups_ == 3 && !out_.clock) return packed_clock(end);
    if (groups_ == 3 || end - at_ > 4) return false;
    out_.groups[groups_] = number_at(text_, at_, out_.digits[groups_]);
    ++groups_;
    return after_group();
  }
  // A mark that goes on with the date.
  bool after_group() {
    if (groups_ == 3 || at_ >= text_.size()) return true;
    const char c = text_[at_];
    const bool goes_on =
        at_ + 1 < text_.size() && (is_digit(text_[at_ + 1]) || is_letter(text_[at_ + 1]));
    if ((c == '-' || c == '/' || c == '.') && goes_on) {
      if (out_.mark != 0 && out_.mark != c && out_.mark != ' ') return false;
      out_.mark = c;
      ++at_;
    }
    return true;
  }
  bool packed_date() {  // 20240304
    const auto part = [&](std::size_t from, std::size_t n) {
      int value = 0;
      for (std::size_t k = at_ + from; k < at_ + from + n; ++k)
        value = value * 10 + (text_[k] - '0');
      return value;
    };
    out_.groups[0] = part(0, 4), out_.groups[1] = part(4, 2), out_.groups[2] = part(6, 2);
    out_.digits[0] = 4, out_.digits[1] = out_.digits[2] = 2;
    out_.mark = '-';
    groups_ = 3;
    at_ += 8;
    return at_ < text_.size();  // a number alone is a number
  }
  bool packed_clock(std::size_t end) {  // 101112
    const auto pair = [&](std::size_t from) {
      return (text_[at_ + from] - '0') * 10 + (text_[at_ + from + 1] - '0');
    };
    const int hours = pair(0), minutes = pair(2), seconds = pair(4);
    at_ = end;
    return set_clock(hours, minutes, seconds) && fraction();
  }
  bool set_clock(std::int64_t hours, int minutes, int seconds) {
    if (minutes > 59 || seconds > 60) return false;  // a leap second is one second more
    out_.clock = true;
    out_.of_day_ns = ((hours * 60 + minutes) * 60 + seconds) * kSecond_ns;
    out_.resolution_ns = kSecond_ns;
    return true;
  }
  // What stands behind the seconds, after a point, a comma or another colon.
  bool fraction() {
    if (at_ + 1 >= text_.size() || !is_digit(text_[at_ + 1])) return true;
    if (text_[at_] != '.' && text_[at_] != ',' && text_[at_] != ':') return true;
    std::int64_t part = 0, step = kSecond_ns;
    for (++at_; at_ < text_.size() && is_digit(text_[at_]); ++at_)
      if (step > 1) {
        step /= 10;
        part += (text_[at_] - '0') * step;
      }
    out_.of_day_ns += part;
    out_.resolution_ns = step;
    return true;
  }
  bool clock() {
    int digits = 0, first = number_at(text_, at_, digits);
    if (digits > 6) return false;
    ++at_;
    int second = number_at(text_, at_, digits);
    if (digits > 2) return false;
    if (at_ + 1 < text_.size() && text_[at_] == ':' && is_digit(text_[at_ + 1])) {
      ++at_;
      const int third = number_at(text_, at_, digits);
      return digits <= 2 && set_clock(first, second, third) && fraction();
    }
    // Two parts: hours and minutes, but with a fraction minutes and seconds.
    if (at_ < text_.size() && (text_[at_] == '.' || text_[at_] == ',')) {
      out_.hours = false;
      return set_clock(0, 0, second) && (out_.of_day_ns += first * 60 * kSecond_ns, fraction());
    }
    if (!set_clock(first, second, 0)) return false;
    out_.resolution_ns = 60 * kSecond_ns;
    return true;
  }
  bool word() {
    const std::size_t from = at_;
    while (at_ < text_.size() && (is_letter(text_[at_]) || (text_[at_] == '.' && half_word(from))))
      ++at_;
    const std::string_view written = text_.substr(from, at_ - from);
    if (written == "T" && groups_ == 3 && !out_.clock) return true;
    if (written == "Z") return out_.clock && (out_.zone_min = 0, true);
    const std::string name = folded(written);
    if (name == "t" && groups_ == 3 && !out_.clock) return true;
    if (name == "z" || name == "utc" || name == "gmt")
      return out_.clock && (out_.zone_min = 0, true);
    if (name == "am" || name == "a m" || name == "pm" || name == "p m")
      return half_ = name.front(), out_.clock;
    if (name == "uhr" || name == "h") return out_.clock;
    if (name == "de" || name == "of" || name == "th" || name == "st" || name == "nd" ||
        name == "rd")
      return groups_ > 0;
    if (const auto month = month_of(name);
        month && groups_ < 3 && !(groups_ == 0 && is_weekday(name) && name != "mar")) {
      out_.groups[groups_] = *month;
      out_.digits[groups_++] = 0;
      if (out_.mark == 0) out_.mark = ' ';
      if (at_ < text_.size() && text_[at_] == '.' && at_ + 1 < text_.size() &&
          text_[at_ + 1] == ' ')
        ++at_;  // "4 Mar. 2024"
      return after_group();
    }
    return is_weekday(name) && groups_ == 0;
  }
  // "a.m."
  [[nodiscard]] bool half_word(std::size_t from) const {
    const char first = static_cast<char>(text_[from] | 0x20);
    return (first == 'a' || first == 'p') && at_ - from <= 3;
  }
  bool mark() {
    const char c = text_[at_];
    if ((c == '+' || c == '-') && out_.clock) return zone();
    if (c == ' ' || c == '\t') return ++at_, true;
    if (c == ',' && (groups_ == 3 || out_.mark == ' ')) return ++at_, true;
    if (c == '.' && groups_ > 0 && groups_ < 3 && out_.mark == 0) return ++at_, true;  // "4. March"
    return false;
  }
  bool zone() {
    const int sign = text_[at_] == '-' ? -1 : 1;
    int digits = 0;
    ++at_;
    int hours = number_at(text_, at_, digits), minutes = 0;
    if (digits == 4) {
      minutes = hours % 100;
      hours /= 100;
    } else if (digits == 2 && at_ < text_.size() && text_[at_] == ':') {
      ++at_;
      minutes = number_at(text_, at_, digits);
    }
    if ((digits != 2 && digits != 4) || hours > 15 || minutes > 59) return false;
    out_.zone_min = sign * (hours * 60 + minutes);
    return true;
  }
  bool halve() {
    const std::int64_t hour = out_.of_day_ns / (3600 * kSecond_ns);
    if (hour < 1 || hour > 12 || !out_.hours) return false;
    if (hour == 12) out_.of_day_ns -= kDay_ns / 2;
    if (half_ == 'p') out_.of_day_ns += kDay_ns / 2;
    out_.half_day = true;
    return true;
  }

  std::string_view text_;
  std::size_t at_ = 0;
  int groups_ = 0;
  char half_ = 0;  // 'a', 'p'
  Moment out_;
};

struct Places {
  int year, month, day;  // which group is it
};
std::optional<Places> places_of(const Moment& moment, DateOrder order) {
  // A month by its name tells its place; the day stands before it or next to it.
  for (int k = 0; k < 3; ++k)
    if (moment.digits[k] == 0) {
      if (k == 0) return Places{2, 0, 1};
      if (k == 2) return std::nullopt;
      const bool year_first = moment.digits[0] == 4 || moment.groups[0] > 31;
      return year_first ? Places{0, 1, 2} : Places{2, 1, 0};
    }
  switch (order) {
    case DateOrder::DAY_MONTH_YEAR:
      return Places{2, 1, 0};
    case DateOrder::MONTH_DAY_YEAR:
      return Places{2, 0, 1};
    case DateOrder::YEAR_MONTH_DAY:
      return Places{0, 1, 2};
    case DateOrder::UNSPECIFIED:
      break;
  }
  return std::nullopt;
}

}  // namespace

std::optional<ParsedTime> parse_count(std::string_view cell, const NumberForm& form,
                                      std::int64_t unit_ns) {
  const auto number = parse_decimal(trimmed_cell(cell), form);
  if (!number) return std::nullopt;
  Wide ns = static_cast<Wide>(number->digits) * unit_ns, step = unit_ns;
  int decimals = number->decimals;
  if (number->digits == 0 && decimals < 0) decimals = 0;
  for (; decimals < 0 && ns < kMost_ns; ++decimals) ns *= 10, step *= 10;
  Wide over = 1;
  for (int k = 0; k < decimals && over < Wide{1} << 100; ++k) over *= 10;
  ns = (ns + over / 2) / over;
  step = std::clamp<Wide>(step / over, 1, kMost_ns);
  if (number->beyond || decimals < 0 || ns > kMost_ns) ns = kMost_ns;
  const auto whole = static_cast<std::int64_t>(ns);
  return ParsedTime{number->negative ? -whole : whole, static_cast<std::int64_t>(step)};
}

std::optional<Moment> parse_moment(std::string_view cell) {
  cell = trimmed_cell(cell);
  constexpr std::size_t kLongest = 64;
  if (cell.size() < 4 || cell.size() > kLongest) return std::nullopt;
  return MomentReader(cell).read();
}

bool add_half_day(Moment& moment, std::string_view cell) {
  const std::string name = folded(trimmed_cell(cell));
  const bool after = name == "pm" || name == "p m";
  const std::int64_t hour = moment.of_day_ns / (3600 * kSecond_ns);
  if ((!after && name != "am" && name != "a m") || hour < 1 || hour > 12) return false;
  if (hour == 12) moment.of_day_ns -= kDay_ns / 2;
  if (after) moment.of_day_ns += kDay_ns / 2;
  moment.half_day = true;
  return true;
}

unsigned orders_of(const Moment& moment) {
  unsigned out = 0;
  for (const DateOrder order :
       {DateOrder::DAY_MONTH_YEAR, DateOrder::MONTH_DAY_YEAR, DateOrder::YEAR_MONTH_DAY})
    if (days_of(moment, order)) out |= bit_of(order);
  const unsigned day_first = bit_of(DateOrder::DAY_MONTH_YEAR);
  if (moment.mark == '.' && (out & day_first) != 0) return day_first;  // points: always so
  return out;
}

std::optional<std::int64_t> days_of(const Moment& moment, DateOrder order) {
  if (moment.mark == 0) return std::nullopt;
  const auto at = places_of(moment, order);
  if (!at) return std::nullopt;
  int year = moment.groups[at->year];
  const int year_digits = moment.digits[at->year];
  if (year_digits != 4 && year_digits != 2) return std::nullopt;
  if (moment.digits[at->day] > 2 || moment.digits[at->month] > 2) return std::nullopt;
  if (year_digits == 2) year += year < 70 ? 2000 : 1900;
  const std::chrono::year_month_day date{
      std::chrono::year{year}, std::chrono::month{static_cast<unsigned>(moment.groups[at->month])},
      std::chrono::day{static_cast<unsigned>(moment.groups[at->day])}};
  if (!date.ok()) return std::nullopt;
  return std::chrono::sys_days{date}.time_since_epoch().count();
}

bool looks_like_iso_time(std::string_view cell) {
  cell = trimmed_cell(cell);
  if (cell.size() < 16 || cell[4] != '-' || cell[7] != '-' || (cell[10] != 'T' && cell[10] != ' '))
    return false;
  for (const std::size_t k : {0U, 1U, 2U, 3U, 5U, 6U, 8U, 9U})
    if (!is_digit(cell[k])) return false;
  return true;
}

std::optional<ParsedTime> parse_iso_time(std::string_view cell) {
  if (!looks_like_iso_time(cell)) return std::nullopt;
  const auto moment = parse_moment(cell);
  if (!moment || !moment->clock || moment->of_day_ns > kDay_ns + kSecond_ns) return std::nullopt;
  const auto days = days_of(*moment, DateOrder::YEAR_MONTH_DAY);
  if (!days) return std::nullopt;
  const Wide ns = static_cast<Wide>(*days) * kDay_ns + moment->of_day_ns -
                  static_cast<Wide>(moment->zone_min.value_or(0)) * 60 * kSecond_ns;
  return ParsedTime{static_cast<std::int64_t>(std::clamp<Wide>(ns, -kMost_ns, kMost_ns)),
                    moment->resolution_ns};
}

}  // namespace airlatch
