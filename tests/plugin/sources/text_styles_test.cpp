// SPDX-License-Identifier: GPL-3.0-or-later
// A capture of each class of style that meters, loggers, scopes and programs write, invented, small,
// its samples known: they are read, or the question that is open is asked.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>

#include "plugin/sources/delimited_text.hpp"
#include "tests/support/files.hpp"

namespace airlatch {
namespace {
using namespace test;

struct Style {
  const char* what;
  std::string text;
  std::vector<std::string> names;
  std::vector<double> times_s;              // of the first channel, from its first sample
  std::vector<std::vector<double>> values;  // of each channel, in role units
};

// Rows of `row` for k = 0, 1, 2, ...
template <typename Row>
std::string rows(int n, const Row& row) {
  std::string out;
  for (int k = 0; k < n; ++k) out += row(k);
  return out;
}

std::string comma(double value, int decimals) {
  std::string out = fmt::format("{:.{}f}", value, decimals);
  for (char& c : out)
    if (c == '.') c = ',';
  return out;
}

constexpr int kRows = 12;
const std::vector<double> kTenths = {0, 0.1, 0.2}, kSeconds = {0, 1, 2};

std::vector<Style> time_styles() {
  return {
      {"unit in the name",
       "time_ms,p\n" + rows(kRows, [](int k) { return fmt::format("{},{}\n", 1766 + 100 * k, k); }),
       {"p"},
       kTenths,
       {{0, 1, 2}}},
      {"unit in brackets",
       "Timestamp(us),p\n" +
           rows(kRows, [](int k) { return fmt::format("{},{}\n", 100'000 * k, k); }),
       {"p"},
       kTenths,
       {{0, 1, 2}}},
      {"unit in a row of units",
       "time,p\nms,kPa\n" + rows(kRows, [](int k) { return fmt::format("{},{}\n", 100 * k, k); }),
       {"p"},
       kTenths,
       {{0, 1, 2}}},
      {"unit in a comment",
       "# time in us\ntime,p\n" +
           rows(kRows, [](int k) { return fmt::format("{},{}\n", 100'000 * k, k); }),
       {"p"},
       kTenths,
       {{0, 1, 2}}},
      {"unit by the stated rate",
       "; Samplerate: 10 Hz\nTime,p\n" +
           rows(kRows, [](int k) { return fmt::format("{},{}\n", 100 * k, k); }),
       {"p"},
       kTenths,
       {{0, 1, 2}}},
      {"unit by a date beside it",
       "stamp;counter_t;p\n" + rows(kRows,
                                    [](int k) {
                                      return fmt::format("2024-03-04 10:00:{:02};{};{}\n", k,
                                                         1000 * k, k);
                                    }),
       {"counter_t", "p"},
       kSeconds,
       {{0, 1000, 2000}, {0, 1, 2}}},
      {"milliseconds since 1970",
       "time,p\n" +
           rows(kRows,
                [](int k) { return fmt::format("{},{}\n", 1'709'546'400'000 + 100 * k, k); }),
       {"p"},
       kTenths,
       {{0, 1, 2}}},
      {"nanoseconds since 1970",
       "timestamp,p\n" +
           rows(kRows, [](int k) { return fmt::format("{}00000000,{}\n", 17'095'464'000 + k, k); }),
       {"p"},
       kTenths,
       {{0, 1, 2}}},
      {"days of a spreadsheet",
       "Date Time,p\n" +
           rows(kRows,
                [](int k) { return fmt::format("{:.10f},{}\n", 45355.25 + k / 86400.0, k); }),
       {"p"},
       kSeconds,
       {{0, 1, 2}}},
      {"day.month.year and a clock",
       "Datum;Uhrzeit;p\n" + rows(kRows,
                                  [](int k) {
                                    return fmt::format("03.04.2024;10:00:0{},{};{}\n", k / 10,
                                                       k % 10, k);
                                  }),
       {"p"},
       kTenths,
       {{0, 1, 2}}},
      {"month/day/year, AM and PM",
       "Date,Time,p\n" + rows(kRows,
                              [](int k) {
                                return fmt::format("03/14/2024,{}:{:02}:00 {},{}\n",
                                                   k < 5 ? 11 : 12, (55 + k) % 60,
                                                   k < 5 ? "AM" : "PM", k);
                              }),
       {"p"},
       {0, 60, 120, 180, 240, 300},
       {{0, 1, 2}}},
      {"order of the date told by a later row",
       "Date,p\n" +
           rows(kRows, [](int k) { return fmt::format("{:02}/04/2024 00:00,{}\n", 5 + k, k); }),
       {"p"},
       {0, 86400, 172800},
       {{0, 1, 2}}},
      {"names of months",
       "when;p\n" +
           rows(kRows,
                [](int k) { return fmt::format("4. M\u00e4rz 2024 10:00:{:02};{}\n", k, k); }),
       {"p"},
       kSeconds,
       {{0, 1, 2}}},
      {"a clock over midnight",
       "Hora;p\n" + rows(kRows,
                         [](int k) {
                           return fmt::format("{}:{:02};{}\n", k < 2 ? "23:59" : "00:00",
                                              (58 + k) % 60, k);
                         }),
       {"p"},
       kSeconds,
       {{0, 1, 2}}},
      {"elapsed beyond a day",
       "Elapsed,p\n" + rows(kRows,
                            [](int k) {
                              return fmt::format("{}:{:02}:59.5,{}\n", 23 + (59 + k) / 60,
                                                 (59 + k) % 60, k);
                            }),
       {"p"},
       {0, 60, 120},
       {{0, 1, 2}}},
      {"minutes and seconds of a spreadsheet",
       "time,p\n" + rows(kRows,
                         [](int k) {
                           return fmt::format("{:02}:{:02}.0,{}\n", (59 + (58 + k) / 60) % 60,
                                              (58 + k) % 60, k);
                         }),
       {"p"},
       kSeconds,
       {{0, 1, 2}}},
      {"ISO with a zone",
       "time;p\n" + rows(kRows,
                         [](int k) {
                           return fmt::format("2024-03-04T{:02}:00:0{}.{}+0{}:00;{}\n", 10 + k % 2,
                                              k / 10, k % 10, k % 2, k);
                         }),
       {"p"},
       kTenths,
       {{0, 1, 2}}},
      {"date and time in two columns, clock first",
       rows(kRows, [](int k) { return fmt::format("\"12:07:{:02}\",\"2026-02-06\",{}\n", k, k); }),
       {"CH2"},
       kSeconds,
       {{0, 1, 2}}},
      {"the time last, behind a column of text",
       "mode,p,timestamp\r\n" + rows(kRows,
                                     [](int k) {
                                       return fmt::format("blow,{},{:.6f}\r\n", k,
                                                          1769108526.25 + 0.1 * k);
                                     }),
       {"p"},
       kTenths,
       {{0, 1, 2}}},
      {"an index before the time",
       "nr,time,p\n" + rows(kRows, [](int k) { return fmt::format("{},{},{}\n", k, k / 10.0, k); }),
       {"p"},
       kTenths,
       {{0, 1, 2}}},
  };
}

std::vector<Style> table_styles() {
  return {
      {"no header",
       rows(kRows, [](int k) { return fmt::format("{:.3f}\t{}\n", k / 10.0 - 0.5, k); }),
       {"CH1"},
       kTenths,
       {{0, 1, 2}}},
      {"names, then units",
       "x-axis,1,2\nsecond,Volt,Volt\n" +
           rows(kRows,
                [](int k) { return fmt::format("{:+.6E},{:+.6E},-1E-03\n", k * 0.1, k * 0.5); }),
       {"1", "2"},
       kTenths,
       {{0, 0.5, 1}, {-0.001}}},
      {"the same with blanks",
       "x-axis 1\nsecond Volt\n" +
           rows(kRows, [](int k) { return fmt::format("{:+.6E} {:+.6E}\n", k * 0.1, k * 0.5); }),
       {"1"},
       kTenths,
       {{0, 0.5, 1}}},
      {"a separator too many in the head",
       "X,CH1,\r\nSecond,Volt,\r\n" +
           rows(kRows, [](int k) { return fmt::format("{:.7e},{:.5e}\r\n", k * 0.1, k * 0.5); }),
       {"CH1"},
       kTenths,
       {{0, 0.5, 1}}},
      {"the first name empty, rows that end in blanks",
       ",CH2\r\nSecond,Volt\r\n" +
           rows(kRows, [](int k) { return fmt::format("{:.5e},{:.2e}, \r\n", k * 0.1, k * 0.5); }),
       {"CH2"},
       kTenths,
       {{0, 0.5, 1}}},
      {"start and increment in the head",
       "X,CH1,Start,Increment,\r\nSequence,Volt,-5.0e-01,1.0e-01,\r\n" +
           rows(kRows, [](int k) { return fmt::format("{},{:.2e},\r\n", k, k * 0.5); }),
       {"CH1"},
       kTenths,
       {{0, 0.5, 1}}},
      {"settings before the table, and two columns of a name",
       "\"Number of points =\",12,\n\"Rate (Hz)=\",10,\n\"Time (s)\",\"Voltage (V)\",\"Voltage "
       "(V)\"\n" +
           rows(kRows, [](int k) { return fmt::format("{},{},5\n", k / 10.0, k); }),
       {"Voltage", "Voltage 2"},
       kTenths,
       {{0, 1, 2}, {5, 5, 5}}},
      {"settings beside the samples",
       rows(30,
            [](int k) {
              const char* const side[] = {"Record Length,30", "Sample Interval,1.0e-01",
                                          "Source,CH1", "Vertical Units,V"};
              return fmt::format("{},,  {:.6f},  {},\n", k < 4 ? side[k] : ",", k / 10.0, k);
            }),
       {"CH4"},
       kTenths,
       {{0, 1, 2}}},
      {"keys with tabs",
       "Interval=\t0.1 s\nChannelTitle=\tFlow\tPressure\nUnitName=\t*\tmmHg\n" +
           rows(kRows, [](int k) { return fmt::format("{:g}\tNaN\t{}\n", k / 10.0, k); }),
       {"Flow", "Pressure"},
       kTenths,
       {{NAN, NAN}, {0, 0.133322387, 0.266644774}}},
      {"a block of keys with an end, decimal commas",
       "Writer\t2\nSeparator\tTab\nDecimal_Separator\t,\n***End_of_Header***\nDelta_X\t0,1\t0,1\n"
       "***End_of_Header***\nX_Value\tp\tComment\n" +
           rows(kRows, [](int k) { return comma(k / 10.0, 6) + "\t" + comma(k, 6) + "\n"; }),
       {"p", "Comment"},
       kTenths,
       {{0, 1, 2}, {NAN}}},
      {"comments, a row of empty cells, then the head",
       "#Date: 2017-03-28 09:29,\n,\nTime (s),U (V)\n" +
           rows(kRows, [](int k) { return fmt::format("{},{}\n", k / 10.0, k); }),
       {"U"},
       kTenths,
       {{0, 1, 2}}},
      {"a rate in a comment and no time",
       "#samplerate,10\npressure,flow\n" +
           rows(kRows, [](int k) { return fmt::format("{},\n", k); }),
       {"pressure", "flow"},
       kTenths,
       {{0, 1, 2}, {NAN}}},
      {"a rate in prose and no head",
       "# Samples taken every 100ms.\n\n" +
           rows(kRows, [](int k) { return fmt::format("5.0, {}.0, 8.49,\n", k); }),
       {"CH1", "CH2", "CH3"},
       kTenths,
       {{5, 5}, {0, 1, 2}}},
      {"a program's four head rows",
       "\"TOA\",\"station\"\n\"TIMESTAMP\",\"RECORD\",\"p\"\n"
       "\"TS\",\"RN\",\"hPa\"\n\"\",\"\",\"Smp\"\n" +
           rows(kRows,
                [](int k) {
                  return fmt::format("\"2024-03-04 10:00:{:02}\",{},{}\n", k, k, k * 10);
                }),
       {"p"},
       kSeconds,
       {{0, 1, 2}}},
      {"a spreadsheet's own line",
       "sep=;\ntime;p\n" +
           rows(kRows, [](int k) { return comma(k / 10.0, 2) + ";" + comma(k, 2) + "\n"; }),
       {"p"},
       kTenths,
       {{0, 1, 2}}},
      {"statistics behind the table",
       "time;p\n" + rows(kRows, [](int k) { return fmt::format("{};{}\n", k / 10.0, k); }) +
           "\nMin;0\nMax;11\nMittelwert;5,5\n",
       {"p"},
       kTenths,
       {{0, 1, 2}}},
      {"the header again",
       "time,p\n" + rows(5, [](int k) { return fmt::format("{},{}\n", k / 10.0, k); }) +
           "time,p\n" +
           rows(5, [](int k) { return fmt::format("{},{}\n", 0.5 + k / 10.0, 5 + k); }),
       {"p"},
       {0, 0.1, 0.2, 0.3, 0.4, 0.5},
       {{0, 1, 2, 3, 4, 5}}},
      {"a preamble of hundreds of lines",
       rows(300, [](int k) { return fmt::format("Key {}: {}\n", k, k); }) + "\ntime;p\n\n" +
           rows(kRows, [](int k) { return fmt::format("{};{}\n", k / 10.0, k); }),
       {"p"},
       kTenths,
       {{0, 1, 2}}},
      {"names over a date and a time apart by blanks",
       "Timestamp U I\n" +
           rows(kRows, [](int k) { return fmt::format("2024-03-04 10:00:{:02} {} 0.5\n", k, k); }),
       {"U", "I"},
       kSeconds,
       {{0, 1, 2}, {0.5}}},
  };
}

std::vector<Style> cell_styles() {
  return {
      {"units in the cells",
       "time,U,I\n" + rows(kRows,
                           [](int k) {
                             return fmt::format("{},{} V,{}\n", k / 10.0, k,
                                                k % 2 == 0 ? "230 mA" : "0.25A");
                           }),
       {"U", "I"},
       kTenths,
       {{0, 1, 2}, {0.23, 0.25, 0.23}}},
      {"units as cells of their own",
       rows(kRows, [](int k) { return fmt::format("{:.1f}, s, {}, mbar\n", k / 10.0, k * 10); }),
       {"CH2"},
       kTenths,
       {{0, 1, 2}}},
      {"a column of units",
       "Date;Time;Value;Unit\n" + rows(kRows,
                                       [](int k) {
                                         return fmt::format(
                                             "2019-12-27 ; 13:46:{:02} ; {} ; \xb0\x43\n", k, k);
                                       }),
       {"Value"},
       kSeconds,
       {{0, 1, 2}}},
      {"thousands in quotes",
       "time,p\n" +
           rows(kRows, [](int k) { return fmt::format("{},\"1,00{}.5\"\n", k / 10.0, k % 10); }),
       {"p"},
       kTenths,
       {{1000.5, 1001.5, 1002.5}}},
      {"thousands with a hard blank",
       "time;p\n" + rows(kRows,
                         [](int k) {
                           return fmt::format("{};1\u00a000{},5\n", comma(k / 10.0, 1), k % 10);
                         }),
       {"p"},
       kTenths,
       {{1000.5, 1001.5, 1002.5}}},
      {"milliseconds behind a comma, in quotes",
       "\"Time\",\"p\"\n" + rows(kRows,
                                 [](int k) {
                                   return fmt::format("\"10:00:0{},{}00\",\"{},5\"\n", k / 10,
                                                      k % 10, k);
                                 }),
       {"p"},
       kTenths,
       {{0.5, 1.5, 2.5}}},
      {"a meter read in turn with another",
       "time,a,b\n" + rows(kRows,
                           [](int k) {
                             return k % 2 == 0 ? fmt::format("{},{},\n", k / 10.0, k)
                                               : fmt::format("{},,{}\n", k / 10.0, k);
                           }),
       {"a", "b"},
       {0, 0.2, 0.4},
       {{0, 2, 4}, {1, 3, 5}}},
      {"one reading a row",
       "value;unit;name;timestamp\n" +
           rows(kRows,
                [](int k) {
                  return fmt::format("{};{};{};2024-03-04 10:00:{:02}\n", k,
                                     k % 2 == 0 ? "V" : "bar", k % 2 == 0 ? "supply_v" : "line", k);
                }),
       {"supply_v", "line"},
       {0, 2, 4},
       {{0, 2, 4}, {100, 300, 500}}},
      {"one channel after the other",
       "channel,time,value\n" +
           rows(kRows, [](int k) { return fmt::format("a,{},{}\n", k / 10.0, k); }) +
           rows(kRows, [](int k) { return fmt::format("b,{},{}\n", k / 10.0, -k); }),
       {"a", "b"},
       kTenths,
       {{0, 1, 2}, {0, -1, -2}}},
      {"JSON lines",
       rows(kRows,
            [](int k) {
              return fmt::format(
                  "{{\"voltage\":{},\"ts\":\"2024-03-04T10:00:{:02}Z\",\"bench\":{{\"p\":5}}}}\n",
                  k, k);
            }),
       {"voltage", "bench.p"},
       kSeconds,
       {{0, 1, 2}, {5, 5}}},
      {"JSON lines as the pipe has them",
       rows(kRows,
            [](int k) {
              return fmt::format(
                  "{{\"channel\":\"a\",\"time_s\":{},\"value\":{}}}\n{{\"channel\":\"b\",\"time_"
                  "s\":{},"
                  "\"value\":{},\"unit\":\"bar\"}}\n",
                  k / 10.0, k, k / 10.0 + 0.05, k);
            }),
       {"a", "b"},
       kTenths,
       {{0, 1, 2}, {0, 100, 200}}},
      {"JSON blocks",
       rows(kRows,
            [](int k) {
              return fmt::format(
                  "{{\"channel\":\"a\",\"time_s\":{:.1f},\"period_s\":0.1,\"values\":[{},null]}}\n",
                  0.2 * k, k);
            }),
       {"a"},
       kTenths,
       {{0, NAN, 1}}},
      {"Polish, with an index",
       "Lp.;Czas [ms];Ci\u015bnienie [bar]\n" +
           rows(kRows,
                [](int k) {
                  return fmt::format("{};{};{}\n", k + 1, 100 * k, comma(k / 100.0, 2));
                }),
       {"Ci\u015bnienie"},
       kTenths,
       {{0, 1, 2}}},
      {"letters of one byte",
       "Dur\xe9"
       "e;Temps;Temp (\xb0\x43)\n" +
           rows(kRows, [](int k) { return fmt::format("5;{};{}\n", comma(k / 10.0, 1), k); }),
       {"Dur\u00e9"
        "e",
        "Temp"},
       kTenths,
       {{5, 5}, {0, 1, 2}}},
  };
}

class TextStyles : public testing::Test {
 protected:
  Content read(const std::string& text, const OpenOptions& options = {}) {
    return read_all(folder.write("x.txt", text), options);
  }
  Refusal refused(const std::string& text, const OpenOptions& options = {}) {
    return refusal(folder.write("x.txt", text), options);
  }
  void expect(const Style& style) {
    const Refusal said = refused(style.text);
    ASSERT_EQ(said.line, "") << style.what << "\n" << style.text.substr(0, 300);
    const Content content = read(style.text);
    EXPECT_EQ(content.damage, "") << style.what;
    std::vector<std::string> names;
    for (const SourceChannel& channel : content.channels) names.push_back(channel.name);
    ASSERT_EQ(names, style.names) << style.what << "\n" << style.text.substr(0, 300);
    ASSERT_GE(content.times_ns[0].size(), style.times_s.size()) << style.what;
    for (std::size_t k = 0; k < style.times_s.size(); ++k)
      EXPECT_NEAR(static_cast<double>(content.times_ns[0][k] - content.times_ns[0][0]) * 1e-9,
                  style.times_s[k], 2e-5)
          << style.what << ' ' << k;
    for (std::size_t c = 0; c < style.values.size(); ++c)
      for (std::size_t k = 0; k < style.values[c].size(); ++k) {
        ASSERT_GT(content.values[c].size(), k) << style.what;
        const double expected = style.values[c][k], found = content.values[c][k];
        if (std::isnan(expected))
          EXPECT_TRUE(std::isnan(found)) << style.what << ' ' << c << ' ' << k;
        else
          EXPECT_NEAR(found, expected, 1e-6 * std::max(1.0, std::abs(expected)))
              << style.what << ' ' << c << ' ' << k;
      }
  }
  Folder folder;
};

TEST_F(TextStyles, TimesInEveryForm) {
  for (const Style& style : time_styles()) expect(style);
}

TEST_F(TextStyles, TablesInEveryShape) {
  for (const Style& style : table_styles()) expect(style);
}

TEST_F(TextStyles, CellsInEveryForm) {
  for (const Style& style : cell_styles()) expect(style);
}

// What stays open is asked, and what was asked for makes the file readable.
TEST_F(TextStyles, QuestionsAndTheirAnswers) {
  struct Question {
    std::string text;
    std::string says;  // the refusal quotes the cell and names the rig's line
    std::string line;
    OpenOptions answer;
    double step_s;
  };
  const auto table = [](const char* head, const auto& row) { return head + rows(40, row); };
  const std::vector<Question> questions = {
      {table("time,p\n", [](int k) { return fmt::format("{},{}\n", 20 * k, k); }),
       "'0'",
       "text { time_unit: \"ms\" }",
       {.text = {.time_unit = "ms"}},
       0.02},
      {"time,p\n" + rows(3000, [](int k) { return fmt::format("{},{}\n", k, k); }),
       "'0'",
       "time_unit",
       {.text = {.time_unit = "s"}},
       1},
      {table("# Sampling rate: 50 Hz\ntime (s),p\n",
             [](int k) { return fmt::format("{},{}\n", 20 * k, k); }),
       "its name says s, but '# Sampling rate: 50 Hz' says ms",
       "time_unit",
       {.text = {.time_unit = "ms"}},
       0.02},
      {table("", [](int k) { return fmt::format("{}\t{}\n", 10 * k, k % 7); }),
       "'0'",
       "text { time_column: \"1\" time_unit: \"s\" }",
       {.text = {.time_column = "1", .time_unit = "s"}},
       10},
      {table("pos,p\n", [](int k) { return fmt::format("{},{}\n", 0.5 * k, k % 7); }),
       "'pos'",
       "text { time_column: \"1\" time_unit: \"s\" }",
       {.text = {.time_column = "1", .time_unit = "s"}},
       0.5},
      {table("Date,p\n", [](int k) { return fmt::format("03/04/2024 10:00:{:02},{}\n", k, k); }),
       "'03/04/2024 10:00:00'",
       "text { date_order: DAY_MONTH_YEAR }",
       {.text = {.date_order = DateOrder::DAY_MONTH_YEAR}},
       1},
      {table("time (s);p\n", [](int k) { return fmt::format("{};{},{:03}\n", k, k + 1, 999 - k); }),
       "'1,999'",
       "text { decimal: COMMA }",
       {.text = {.decimal = DecimalMark::COMMA}},
       1},
      {table("",
             [](int k) {
               return fmt::format("{}{}00.000;3.91{}\n",
                                  k < 10 ? "" : fmt::format("{}.", k / 10), k % 10, k % 7);
             }),
       "'3.910'",
       "text { decimal: POINT }",
       {.text = {.time_unit = "us", .decimal = DecimalMark::POINT}},
       0.1},
  };
  for (const Question& question : questions) {
    const Refusal said = refused(question.text);
    EXPECT_EQ(said.status, 65) << question.text.substr(0, 80);
    EXPECT_NE(said.line.find(question.says), std::string::npos) << said.line;
    EXPECT_NE(said.line.find(question.line), std::string::npos) << said.line;
    EXPECT_EQ(said.line.find("--rate"), std::string::npos) << said.line;
    const Content content = read(question.text, question.answer);
    ASSERT_GE(content.times_ns[0].size(), 40U);
    EXPECT_NEAR(static_cast<double>(content.times_ns[0][1] - content.times_ns[0][0]) * 1e-9,
                question.step_s, 1e-9)
        << question.text.substr(0, 80);
  }
}

TEST_F(TextStyles, OverloadsAreNoValuesAndMissingOnesNeither) {
  for (const char* const cell : {"OL", ".OL", "0L", "O.L", "+OVER", "OVLD", "overload", "-----",
                                 "######", "1 .", "9.9E+37", "9.91E37", "+9.90000000E+37", "inf"}) {
    const Content content = read(fmt::format("time,a\n0.0,1\n0.1,{}\n0.2,2\n", cell));
    ASSERT_EQ(content.values[0].size(), 3U) << cell;
    EXPECT_TRUE(std::isinf(content.values[0][1]) && content.values[0][1] > 0) << cell;
  }
  for (const char* const cell : {"-OL", "-9.9E+37", "-inf", "-OVLD"})
    EXPECT_EQ(read(fmt::format("time,a\n0.0,1\n0.1,{}\n0.2,2\n", cell)).values[0][1], -INFINITY)
        << cell;
  for (const char* const cell : {"", "NA", "N/A", "NaN", "null", "None", "-", "---", "#N/A"})
    EXPECT_TRUE(std::isnan(read(fmt::format("time,a\n0.0,1\n0.1,{}\n0.2,2\n", cell)).values[0][1]))
        << cell;
  EXPECT_EQ(read("time,a\n0.0,1\n0.1,1.\n0.2,9.8E+37\n").values[0][1], 1);
}

// Ten rows a second, each printing the second alone; the recording began in the middle of one.
TEST_F(TextStyles, ManyRowsASecondLieEvenly) {
  std::string text = "Time;p\n";
  for (int k = 0; k < 64; ++k) text += fmt::format("10:00:{:02};{}\n", (k + 7) / 10, k);
  const Content content = read(text);
  ASSERT_EQ(content.times_ns[0].size(), 64U);
  for (std::size_t k = 1; k < 64; ++k)
    EXPECT_NEAR(static_cast<double>(content.times_ns[0][k] - content.times_ns[0][k - 1]) * 1e-9,
                0.1, 1e-6)
        << k;
}

TEST_F(TextStyles, WhatWasUnderstoodIsSaid) {
  const auto source =
      open_source(folder.write("said.csv",
                               "nr,time_ms,mode,p\n1,0,on,1\n2,100,on,\n3,200,on,OL\n"
                               "4,300,off,2\n"));
  SampleBlock block;
  while (source->next(block)) {
  }
  std::string all;
  for (const std::string& line : source->understood()) all += line + "\n";
  for (const char* const fact :
       {"column 2 ('time_ms'), in ms (its name)", "column 1 ('nr') only counts the rows",
        "column 3 ('mode') is text", "'p': 1 cells are missing", "'p': 1 cells are overloads"})
    EXPECT_NE(all.find(fact), std::string::npos) << fact << "\n" << all;
}

}  // namespace
}  // namespace airlatch
