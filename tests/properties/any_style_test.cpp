// SPDX-License-Identifier: GPL-3.0-or-later
// One capture, written in thousands of random styles: separator, decimal mark, thousands, times in
// all forms, order of dates, units and where they stand, preamble, letters, order of columns, one
// row a reading or a column a channel, quotes, languages. It comes back within what was printed, or
// a question is asked that the rig can answer; never another answer.
#include <fmt/format.h>
#include <gtest/gtest.h>
#include <zlib.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstdlib>
#include <map>
#include <random>

#include "tests/support/files.hpp"

namespace airlatch {
namespace {
using namespace test;

class Draw {
 public:
  explicit Draw(std::uint32_t seed) : random_(seed) {}
  std::size_t below(std::size_t n) { return random_() % n; }
  bool chance(std::size_t percent) { return below(100) < percent; }
  template <typename T, std::size_t N>
  const T& of(const std::array<T, N>& list) {
    return list[below(N)];
  }
  template <typename T>
  void shuffle(std::vector<T>& list) {
    for (std::size_t k = list.size(); k > 1; --k) std::swap(list[k - 1], list[below(k)]);
  }

 private:
  std::mt19937 random_;
};

struct Written {
  const char* unit;
  double scale, offset;  // role value = scale * written + offset
};
struct Channel {
  std::string name, unit;
  double scale = 1, offset = 0;
  int decimals = 3;
  std::vector<double> values;  // as printed, in the written unit; NaN: left empty
};

// What other people's files have in their headers; collected for this test alone.
constexpr std::array<const char*, 26> kTimeNames = {
    "Time",        "time",         "Elapsed Time", "Timestamp", "t",         "TIME",
    "Rel. Time",   "Zeit",         "Uhrzeit",      "Messzeit",  "Temps",     "Heure",
    "Horodatage",  "Tiempo",       "Hora",         "Tempo",     "Ora",       "Tijd",
    "Tijdstip",    "Czas",         "Godzina",      "timeStamp", "Test Time", "Zeitstempel",
    "Sample Time", "Temps relatif"};
constexpr std::array<const char*, 8> kDateNames = {"Date", "Datum", "Fecha",        "Data",
                                                   "DATE", "Dato",  "Date du jour", "datum"};
constexpr std::array<const char*, 9> kIndexNames = {"No",  "Index",  "Nr", "#",       "Sample",
                                                    "Lp.", "Record", "n",  "lfd. Nr."};
constexpr std::array<const char*, 14> kPressureNames = {
    "Pressure", "Druck",     "Pression", "Presi\u00f3n",  "Pressione",      "Druk", "Press\u00e3o",
    "p_line",   "Channel 3", "CH3",      "line pressure", "Ci\u015bnienie", "P1",   "Reservoir"};
constexpr std::array<const char*, 12> kVoltageNames = {
    "Voltage", "Spannung",  "Tension", "Tensi\u00f3n", "Tensione",      "Spanning",
    "U_bat",   "Channel 1", "CH1",     "Batt",         "Napi\u0119cie", "supply"};
constexpr std::array<const char*, 11> kCurrentNames = {
    "Current", "Strom",     "Courant", "Corriente", "Corrente", "Stroom",
    "I_mot",   "Channel 2", "CH2",     "Pr\u0105d", "motor"};
constexpr std::array<Written, 8> kPressures = {
    Written{"kPa", 1, 0},    {"bar", 100, 0},          {"mbar", 0.1, 0},         {"hPa", 0.1, 0},
    {"psi", 6.894757293, 0}, {"inHg", 3.386388640, 0}, {"mmHg", 0.133322387, 0}, {"Pa", 0.001, 0}};
constexpr std::array<Written, 2> kVoltages = {Written{"V", 1, 0}, {"mV", 0.001, 0}};
constexpr std::array<Written, 2> kCurrents = {Written{"A", 1, 0}, {"mA", 0.001, 0}};

enum class TimeForm {
  kSeconds,
  kMillis,
  kMicros,
  kMinutes,
  kEpochSeconds,
  kEpochMillis,
  kClock,
  kDate,
  kDateAndClock,
  kIso,
  kSpreadsheet,
  kNoTime
};
enum class UnitIn { kName, kSquare, kSuffix, kRow, kCells, kNowhere };

struct Style {
  char separator = ',';
  char decimal = '.';
  bool quotes = false, wide = true, header = true, index = false, text = false;
  TimeForm time = TimeForm::kSeconds;
  UnitIn units = UnitIn::kName;
  int date_order = 0;  // 0: d/m/y, 1: m/d/y, 2: y/m/d
  char date_mark = '/';
  bool late_day = true;  // a day beyond 12: the order can be told
  bool half_day = false, footer = false, blanks_around = false, crlf = false;
  int preamble = 0, letters = 0;
  bool packed = false;
};

struct Sample {
  std::vector<double> times_s;  // from the first
  double resolution_s = 0;
  std::vector<Channel> channels;
};

std::string number(double value, int decimals, char decimal) {
  std::string out = fmt::format("{:.{}f}", value, decimals);
  std::replace(out.begin(), out.end(), '.', decimal);
  return out;
}

class StyleWriter {
 public:
  explicit StyleWriter(std::uint32_t seed) : draw_(seed) { draw_style(), draw_sample(); }

  std::string text() {
    std::string out = preamble();
    out += s_.wide ? wide() : by_rows();
    if (s_.footer) out += end_line() + row({"Min", "1", "2"}) + row({"Max", "3", "4"});
    plain_ = out;
    return encoded(out);
  }
  std::string shown() const { return plain_.substr(0, 600); }
  const Sample& sample() const { return sample_; }
  const Style& style() const { return s_; }
  // The header's cell of each channel, as the reader should know it; empty without a header.
  const std::vector<std::string>& cells() const { return header_cells_; }

 private:
  void draw_style() {
    constexpr std::array kSeparators = {',', ',', ';', ';', '\t', '|', ' '};
    s_.separator = draw_.of(kSeparators);
    s_.quotes = draw_.chance(20);
    s_.decimal = draw_.chance(40) && (s_.separator != ',' || s_.quotes) ? ',' : '.';
    s_.wide = draw_.chance(80);
    s_.header = !s_.wide || draw_.chance(88);
    s_.time = static_cast<TimeForm>(draw_.below(12));
    s_.units = static_cast<UnitIn>(draw_.below(6));
    if (!s_.header || (s_.separator == ' ' && s_.units == UnitIn::kCells))
      s_.units = UnitIn::kNowhere;
    // A bare fraction is seconds, by the contract.
    const bool bare = s_.units == UnitIn::kNowhere || s_.units == UnitIn::kCells;
    if (s_.time == TimeForm::kMinutes && bare) s_.time = TimeForm::kSeconds;
    s_.index = draw_.chance(25) && s_.header;
    s_.text = draw_.chance(15) && s_.header && s_.wide;
    s_.date_order = static_cast<int>(draw_.below(3));
    constexpr std::array kMarks = {'/', '-', '.'};
    s_.date_mark = draw_.of(kMarks);
    if (s_.date_mark == '.' && s_.date_order == 1) s_.date_order = 0;
    s_.late_day = draw_.chance(70);
    s_.half_day = draw_.chance(15) && s_.separator != ' ';
    s_.footer = draw_.chance(10) && s_.wide;
    s_.blanks_around = draw_.chance(15) && s_.separator != ' ';
    s_.crlf = draw_.chance(40);
    s_.preamble = static_cast<int>(draw_.below(7));
    s_.letters = static_cast<int>(draw_.below(6));
    s_.packed = draw_.chance(10);
    if (s_.separator == ' ' && !s_.wide) s_.wide = true;
    if (!s_.wide && s_.time == TimeForm::kNoTime) s_.time = TimeForm::kSeconds;
  }

  void draw_sample() {
    constexpr std::array kPeriods = {0.01, 0.05, 0.1, 0.5, 1.0, 2.0};
    double period = draw_.of(kPeriods);
    if (s_.time == TimeForm::kMinutes) period = std::max(period, 0.5);
    const std::size_t n = 30 + draw_.below(120);
    for (std::size_t k = 0; k < n; ++k) sample_.times_s.push_back(period * static_cast<double>(k));
    period_ = period;
    add(draw_.of(kVoltageNames), draw_.of(kVoltages), 12.4, 0.3, n);
    add(draw_.of(kCurrentNames), draw_.of(kCurrents), 5.1, 4.0, n);
    add(draw_.of(kPressureNames), draw_.of(kPressures), 41.5, 30, n);
  }
  void add(const char* name, const Written& unit, double middle, double swing, std::size_t n) {
    Channel channel{name, unit.unit, unit.scale, unit.offset, 0, {}};
    if (s_.units == UnitIn::kNowhere) channel.unit.clear(), channel.scale = 1;
    channel.decimals =
        std::clamp(static_cast<int>(std::lround(3 + std::log10(channel.scale))), 0, 5);
    if (draw_.chance(30)) channel.decimals = std::max(channel.decimals - 1, 0);
    for (std::size_t k = 0; k < n; ++k) {
      const double value = (middle + swing * std::sin(0.1 * static_cast<double>(k)) +
                            0.01 * static_cast<double>(draw_.below(100))) /
                           channel.scale;
      const double shown = std::pow(10, channel.decimals);
      channel.values.push_back(std::round(value * shown) / shown);
      if (draw_.chance(2) && k > 1 && s_.separator != ' ') channel.values.back() = NAN;
    }
    sample_.channels.push_back(channel);
  }

  std::string end_line() const { return s_.crlf ? "\r\n" : "\n"; }
  std::string quoted(const std::string& cell) const {
    const bool must = cell.find(s_.separator) != std::string::npos && s_.separator != ' ';
    return s_.quotes || must ? "\"" + cell + "\"" : cell;
  }
  std::string row(const std::vector<std::string>& cells) const {
    std::string out;
    for (std::size_t c = 0; c < cells.size(); ++c) {
      if (c > 0)
        out += s_.blanks_around      ? fmt::format(" {} ", s_.separator)
               : s_.separator == ' ' ? std::string("  ")
                                     : std::string(1, s_.separator);
      out += quoted(cells[c]);
    }
    return out + end_line();
  }

  // The unit that the time is printed in, and how fine.
  const char* time_unit() const {
    switch (s_.time) {
      case TimeForm::kMillis:
        return "ms";
      case TimeForm::kMicros:
        return "us";
      case TimeForm::kMinutes:
        return "min";
      default:
        return "s";
    }
  }
  bool counted() const { return s_.time <= TimeForm::kMinutes; }

  std::vector<std::string> time_cells(double t) {
    using namespace std::chrono;
    const double start = 1'710'410'400 - 3 * 86'400 * (s_.late_day ? 0 : 1);  // 2024-03-14 or -11
    const auto ms = static_cast<std::int64_t>(std::llround(t * 1000));
    sample_.resolution_s = 0.001;
    switch (s_.time) {
      case TimeForm::kSeconds:
        return {number(t, 3, s_.decimal)};
      case TimeForm::kMillis:
        return {fmt::format("{}", ms)};
      case TimeForm::kMicros:
        return {fmt::format("{}", ms * 1000)};
      case TimeForm::kMinutes:
        sample_.resolution_s = 60e-5;
        return {number(t / 60, 5, s_.decimal)};
      case TimeForm::kEpochSeconds:
        return {number(start + t, 3, s_.decimal)};
      case TimeForm::kEpochMillis:
        return {fmt::format("{}", static_cast<std::int64_t>(start) * 1000 + ms)};
      case TimeForm::kSpreadsheet:
        sample_.resolution_s = 86400e-9;
        return {number(25569 + (start + t) / 86400, 9, s_.decimal)};
      case TimeForm::kNoTime:
        return {};
      default:
        break;
    }
    const sys_time<milliseconds> at{milliseconds(static_cast<std::int64_t>(start) * 1000 + ms)};
    const auto day = floor<days>(at);
    const year_month_day date{day};
    const auto of_day = (at - day).count();
    const std::int64_t hour = of_day / 3'600'000;
    std::string clock =
        fmt::format("{}:{:02}:{:02}{}{:03}", s_.half_day ? (hour + 11) % 12 + 1 : hour,
                    of_day / 60'000 % 60, of_day / 1000 % 60, s_.decimal, of_day % 1000);
    if (s_.half_day) clock += hour < 12 ? " AM" : " PM";
    const unsigned d = static_cast<unsigned>(date.day()), m = static_cast<unsigned>(date.month());
    const int y = static_cast<int>(date.year());
    const char k = s_.date_mark;
    const std::string written = s_.date_order == 0 ? fmt::format("{:02}{}{:02}{}{}", d, k, m, k, y)
                                : s_.date_order == 1
                                    ? fmt::format("{:02}{}{:02}{}{}", m, k, d, k, y)
                                    : fmt::format("{}{}{:02}{}{:02}", y, k, m, k, d);
    if (s_.time == TimeForm::kClock) return {clock};
    if (s_.time == TimeForm::kDateAndClock) return {written, clock};
    if (s_.time == TimeForm::kDate) return {written + " " + clock};
    return {fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}.{:03}Z", y, m, d, hour,
                        of_day / 60'000 % 60, of_day / 1000 % 60, of_day % 1000)};
  }

  std::string named(const std::string& name, const std::string& unit, UnitIn where) const {
    if (unit.empty() || where == UnitIn::kRow || where == UnitIn::kNowhere ||
        where == UnitIn::kCells)
      return name;
    if (where == UnitIn::kSquare) return name + " [" + unit + "]";
    if (where == UnitIn::kSuffix && unit.size() > 1) return name + "_" + unit;
    return name + (s_.separator == ' ' ? "(" : " (") + unit + ")";
  }
  std::string one_word(std::string name) const {
    if (s_.separator == ' ') std::replace(name.begin(), name.end(), ' ', '_');
    return name;
  }

  std::vector<std::string> time_heads(bool row) {
    if (s_.time == TimeForm::kNoTime) return {};
    const std::string name = one_word(draw_.of(kTimeNames));
    if (s_.time == TimeForm::kDateAndClock) {
      if (row) return {"-", "-"};
      return {one_word(draw_.of(kDateNames)), name};
    }
    if (row) return {counted() ? time_unit() : "-"};
    if (s_.time == TimeForm::kSpreadsheet) return {"Date"};
    return {counted() ? named(name, time_unit(), s_.units) : name};
  }

  // Columns in their drawn order, each with its cells.
  std::string wide() {
    enum Kind { kIndex, kTime, kText, kFirst };
    std::vector<int> order = {kTime, kFirst, kFirst + 1, kFirst + 2};
    if (draw_.chance(40) && s_.header) draw_.shuffle(order);
    if (s_.text) order.push_back(kText);
    if (s_.index) order.insert(order.begin(), kIndex);
    const auto line = [&](auto&& cells_of) {
      std::vector<std::string> out;
      for (const int kind : order)
        for (const std::string& cell : cells_of(kind)) out.push_back(cell);
      return row(out);
    };
    header_cells_.resize(sample_.channels.size());
    std::string out;
    if (s_.header) {
      const std::vector<std::string> times = time_heads(false);
      out += line([&](int kind) -> std::vector<std::string> {
        if (kind == kIndex) return {one_word(draw_.of(kIndexNames))};
        if (kind == kTime) return times;
        if (kind == kText) return {"Remark"};
        const Channel& channel = sample_.channels[static_cast<std::size_t>(kind - kFirst)];
        return {header_cells_[static_cast<std::size_t>(kind - kFirst)] =
                    named(one_word(channel.name), channel.unit, s_.units)};
      });
      if (s_.units == UnitIn::kRow)
        out += line([&](int kind) -> std::vector<std::string> {
          if (kind == kIndex || kind == kText) return {s_.separator == ' ' ? "-" : ""};
          if (kind == kTime) return time_heads(true);
          return {sample_.channels[static_cast<std::size_t>(kind - kFirst)].unit};
        });
    }
    for (std::size_t k = 0; k < sample_.times_s.size(); ++k)
      out += line([&](int kind) -> std::vector<std::string> {
        if (kind == kIndex) return {std::to_string(k + 1)};
        if (kind == kTime) return time_cells(sample_.times_s[k]);
        if (kind == kText) return {k % 7 == 0 ? "ok" : "running"};
        return {value_cell(sample_.channels[static_cast<std::size_t>(kind - kFirst)], k)};
      });
    return out;
  }
  std::string value_cell(const Channel& channel, std::size_t k) const {
    const double value = channel.values[k];
    if (std::isnan(value)) return "";
    return number(value, channel.decimals, s_.decimal) +
           (s_.units == UnitIn::kCells && !channel.unit.empty() ? " " + channel.unit : "");
  }

  std::string by_rows() {
    constexpr std::array<const char*, 6> kNames = {"Channel", "Kanal", "Signal",
                                                   "Sensor",  "Canal", "Name"};
    constexpr std::array<const char*, 5> kValues = {"Value", "Wert", "Valeur", "Valor", "Reading"};
    const bool unit_column = s_.units == UnitIn::kRow || s_.units == UnitIn::kCells;
    std::vector<int> order = {0, 1, 2};
    if (unit_column) order.push_back(3);
    draw_.shuffle(order);
    const auto line = [&](const std::array<std::vector<std::string>, 4>& cells) {
      std::vector<std::string> out;
      for (const int kind : order)
        out.insert(out.end(), cells[static_cast<std::size_t>(kind)].begin(),
                   cells[static_cast<std::size_t>(kind)].end());
      return row(out);
    };
    // Of the names' own units: in the name, where there is no column of them.
    for (const Channel& channel : sample_.channels)
      header_cells_.push_back(unit_column ? channel.name
                                          : named(channel.name, channel.unit, s_.units));
    const UnitIn before = s_.units;
    if (unit_column) s_.units = UnitIn::kName;  // for the time's unit
    std::string out = line({time_heads(false), {draw_.of(kNames)}, {draw_.of(kValues)}, {"Unit"}});
    s_.units = before;
    for (std::size_t k = 0; k < sample_.times_s.size(); ++k)
      for (std::size_t c = 0; c < sample_.channels.size(); ++c) {
        const Channel& channel = sample_.channels[c];
        if (std::isnan(channel.values[k])) continue;
        out += line({time_cells(sample_.times_s[k]),
                     {header_cells_[c]},
                     {number(channel.values[k], channel.decimals, s_.decimal)},
                     {channel.unit}});
      }
    return out;
  }

  std::string preamble() {
    const std::string end = end_line();
    const bool rate = s_.time == TimeForm::kNoTime && draw_.chance(80);
    std::string out;
    if (rate) out += fmt::format("# Sampling rate: {:g} Hz", 1 / period_) + end;
    switch (s_.preamble) {
      case 1:
        return out + "# recorded on a bench" + end + "#" + end;
      case 2:
        return out + "Device: bench logger" + end + "Serial: 000123" + end + "" + end;
      case 3:
        for (int k = 0; k < 60; ++k) out += fmt::format("Setting {}: {}", k, k * 7) + end;
        return out + end;
      case 4:
        return s_.separator == ' ' || s_.packed ? out
                                                : fmt::format("sep={}", s_.separator) + end + out;
      case 5:
        return out + "% written by a script" + end + "% second line" + end;
      case 6:
        return out + "Test report" + end + end + row({"Operator", "A. N. Other"}) + end;
      default:
        return out;
    }
  }

  std::string encoded(const std::string& text) {
    std::string out;
    if (s_.letters == 1)
      out = "\xef\xbb\xbf" + text;
    else if (s_.letters == 2 || s_.letters == 3)
      out = wide_letters(text, s_.letters == 2);
    else if (s_.letters == 4)
      out = byte_letters(text);
    else
      out = text;
    return s_.packed ? gzip(out) : out;
  }
  static std::string wide_letters(const std::string& text, bool little) {
    std::string out = little ? "\xff\xfe" : "\xfe\xff";
    for (std::size_t k = 0; k < text.size(); ++k) {
      unsigned code = static_cast<unsigned char>(text[k]);
      if (code >= 0xC0) code = (code & 0x1F) << 6 | (static_cast<unsigned char>(text[++k]) & 0x3F);
      const char low = static_cast<char>(code & 0xff), high = static_cast<char>(code >> 8);
      out += little ? low : high;
      out += little ? high : low;
    }
    return out;
  }
  // One byte a letter, where all letters have one.
  std::string byte_letters(const std::string& text) {
    std::string out;
    for (std::size_t k = 0; k < text.size(); ++k) {
      const auto byte = static_cast<unsigned char>(text[k]);
      if (byte < 0x80)
        out += text[k];
      else if (byte == 0xC2 || byte == 0xC3)
        out +=
            static_cast<char>((byte & 0x03) << 6 | (static_cast<unsigned char>(text[++k]) & 0x3F));
      else
        return text;
    }
    return out;
  }
  static std::string gzip(std::string in) {
    z_stream stream = {};
    deflateInit2(&stream, 1, Z_DEFLATED, 16 + MAX_WBITS, 8, Z_DEFAULT_STRATEGY);
    std::string out(deflateBound(&stream, in.size()) + 64, '\0');
    stream.next_in = reinterpret_cast<Bytef*>(in.data());
    stream.avail_in = static_cast<uInt>(in.size());
    stream.next_out = reinterpret_cast<Bytef*>(out.data());
    stream.avail_out = static_cast<uInt>(out.size());
    deflate(&stream, Z_FINISH);
    out.resize(stream.total_out);
    deflateEnd(&stream);
    return out;
  }

  Draw draw_;
  Style s_;
  Sample sample_;
  double period_ = 1;
  std::string plain_;
  std::vector<std::string> header_cells_;
};

// What of the content differs from the sample; empty: nothing.
std::string difference(const StyleWriter& writer, const Content& content) {
  const Sample& sample = writer.sample();
  const bool timed = writer.style().time != TimeForm::kNoTime;
  if (!content.damage.empty()) return "damage: " + content.damage;
  std::optional<std::int64_t> zero;
  for (const auto& times : content.times_ns)
    if (!times.empty()) zero = std::min(zero.value_or(times[0]), times[0]);
  std::size_t next = 0;
  for (std::size_t c = 0; c < sample.channels.size(); ++c) {
    const Channel& channel = sample.channels[c];
    std::optional<std::size_t> at;
    if (writer.style().header) {
      for (std::size_t k = 0; k < content.channels.size(); ++k)
        if (content.channels[k].written == writer.cells()[c] ||
            content.channels[k].name == writer.cells()[c])
          at = at.value_or(k);
    } else {
      at = next++;
    }
    if (!at || *at >= content.channels.size())
      return "channel '" + writer.cells()[c] + "' is not there";
    const auto& values = content.values[*at];
    const auto& times = content.times_ns[*at];
    std::size_t found = 0;
    for (std::size_t k = 0; k < channel.values.size(); ++k) {
      if (std::isnan(channel.values[k])) {
        if (found < values.size() && std::isnan(values[found])) ++found;
        continue;
      }
      if (found >= values.size())
        return fmt::format("{} of {} values", values.size(), channel.values.size());
      const double expected = channel.scale * channel.values[k] + channel.offset;
      if (!(std::abs(values[found] - expected) <= 1e-5 * std::abs(expected) + 1e-6))
        return fmt::format("'{}' row {}: {} instead of {}", channel.name, k, values[found],
                           expected);
      const double t = static_cast<double>(times[found] - *zero) * 1e-9;
      const double first = timed ? sample.times_s[0] : 0;
      if (std::abs(t - (sample.times_s[k] - first)) > sample.resolution_s + 1e-6)
        return fmt::format("'{}' row {}: at {} s instead of {} s", channel.name, k, t,
                           sample.times_s[k]);
      ++found;
    }
    if (found != values.size()) return fmt::format("{} values too many", values.size() - found);
  }
  return {};
}

TEST(AnyStyle, TheSameSamplesOrAQuestion) {
  const char* const factor = std::getenv("AIRLATCH_CAMPAIGN");
  const std::uint32_t draws = 800 * (factor ? static_cast<std::uint32_t>(std::atoi(factor)) : 1);
  Folder folder;
  std::map<std::string, int> outcomes;
  for (std::uint32_t seed = 1; seed <= draws; ++seed) {
    StyleWriter writer(seed);
    const std::string path = folder.write("style.txt", writer.text());
    try {
      const Content content = read_all(path);
      const std::string other = difference(writer, content);
      ++outcomes[other.empty() ? "the same" : "another answer"];
      EXPECT_EQ(other, "") << "seed " << seed << "\n" << writer.shown();
    } catch (const InputError& error) {
      const std::string line = error.what();
      const bool asks =
          line.find("text { ") != std::string::npos || line.find("--rate HZ") != std::string::npos;
      ++outcomes[asks ? "a question" : "refused"];
      EXPECT_TRUE(asks) << "seed " << seed << ": " << line << "\n" << writer.shown();
    }
    if (testing::Test::HasFailure() && outcomes["another answer"] + outcomes["refused"] > 20) break;
  }
  for (const auto& [outcome, count] : outcomes)
    std::printf("any style: %d %s\n", count, outcome.c_str());
  // Most leave nothing open.
  EXPECT_GT(outcomes["the same"] * 10, static_cast<int>(draws) * 8);
}

}  // namespace
}  // namespace airlatch
