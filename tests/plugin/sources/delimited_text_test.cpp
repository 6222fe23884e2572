// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/delimited_text.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>

#include "plugin/rehearse/random.hpp"
#include "tests/support/files.hpp"

namespace airlatch {
namespace {
using namespace test;

class DelimitedText : public testing::Test {
 protected:
  Content read(const std::string& text, const OpenOptions& options = {}) {
    return read_all(folder.write("x.csv", text), options);
  }
  Refusal refused(const std::string& text, const OpenOptions& options = {}) {
    return refusal(folder.write("x.csv", text), options);
  }
  Folder folder;
};

TEST_F(DelimitedText, TheSameNumbersFromEveryDialect) {
  const std::vector<std::string> dialects = {
      "time,motor_a,line_kpa\n0,1.5,-2\n0.5,2.5,-3\n1.0,3.5,\n",
      "\xef\xbb\xbftime,motor_a,line_kpa\r\n0,1.5,-2\r\n0.5,2.5,-3\r\n1.0,3.5,\r\n",
      "t;motor_a;line_kpa\n0;1,5;-2\n0,5;2,5;-3\n1,0;3,5;\n",
      "# a comment\ntime_s\tmotor_a\tline_kpa\n0\t1.5\t-2\n\n0.5\t2.5\t-3\n1.0\t3.5\t\n",
      "; a comment\ntime,\"motor_a\",line_kpa\n0,1.5,-2\n0.5,2.5,-3\n1.0,3.5,nan\n",
      "time [ms],motor_a [mA],line_kpa (bar)\n0,1500,-0.02\n500,2500,-0.03\n1000,3500,\n",
      std::string("timestamp,motor_a,line_kpa\n2026-03-01T10:00:00.0Z,1.5,-2\n") +
          "2026-03-01T10:00:00.5Z,2.5,-3\n2026-03-01 11:00:01.0+01:00,3.5,\n",
      "TIME,Motor_A,LINE_KPA\n-3,1.5,-2\n-2.5,2.5,-3\n-2,3.5,\n",
  };
  for (const std::string& text : dialects) {
    const Content content = read(text);
    ASSERT_EQ(content.channels.size(), 2U) << text;
    ASSERT_EQ(content.values[0].size(), 3U) << text;
    EXPECT_EQ(content.values[0], (std::vector<float>{1.5F, 2.5F, 3.5F})) << text;
    EXPECT_FLOAT_EQ(content.values[1][0], -2) << text;
    EXPECT_FLOAT_EQ(content.values[1][1], -3) << text;
    EXPECT_TRUE(std::isnan(content.values[1][2])) << text;
    const auto& times = content.times_ns[0];
    EXPECT_EQ(times[1] - times[0], 500'000'000) << text;
    EXPECT_EQ(times[2] - times[0], 1'000'000'000) << text;
  }
}

// Most rows are plain and read many at once, in two threads; the odd ones between them, cell by
// cell. What was written must come back, wherever the odd ones stand and however narrow the cells
// are.
TEST_F(DelimitedText, OddRowsAmongMany) {
  Random random(5);
  for (const int odd_every : {0, 3, 1'000, 60'000})
    for (const bool narrow : {true, false}) {
      std::string text = "time,a,b\n";
      std::vector<float> a, b;
      std::vector<std::int64_t> times_ns;
      std::int64_t ms = 0;
      while (text.size() < 5'000'000) {
        const bool odd = odd_every > 0 && random.bits() % static_cast<unsigned>(odd_every) == 0;
        ms += odd && random.bits() % 4 == 0 ? 7 : 1;
        const auto left = static_cast<float>(random.bits() % 10);
        const auto right = static_cast<float>(random.bits() % 4096) / 16 - 100;
        const std::string first = fmt::format("{}", left);
        std::string second = narrow ? "5" : fmt::format("{:.4f}", right);
        if (odd) {
          const auto kind = random.bits() % 4;
          if (kind == 0) text += "# a remark, 7\n\n";
          if (kind == 1) second += "e0";
          if (kind == 2) second.insert(0, " ");
        }
        text += fmt::format("{}.{:03},{},{}{}", ms / 1000, ms % 1000, first, second,
                            odd && random.bits() % 2 == 0 ? "\r\n" : "\n");
        a.push_back(left);
        b.push_back(narrow ? 5 : right);
        times_ns.push_back(ms * 1'000'000);
      }
      const Content content = read(text);
      EXPECT_TRUE(content.values[0] == a) << odd_every << ' ' << narrow;
      EXPECT_TRUE(content.values[1] == b) << odd_every << ' ' << narrow;
      EXPECT_TRUE(content.times_ns[0] == times_ns) << odd_every << ' ' << narrow;
    }
}

// Rows that a reading cuts, longer than what is kept free for them.
TEST_F(DelimitedText, LongRowsOverManyReadings) {
  constexpr int kColumns = 1'000, kRows = 1'200;
  std::string text = "time";
  for (int c = 0; c < kColumns; ++c) text += fmt::format(",c{}", c);
  text += '\n';
  for (int r = 0; r < kRows; ++r) {
    text += std::to_string(r);
    for (int c = 0; c < kColumns; ++c) text += fmt::format(",{}.{:03}00000000", r, c);
    text += '\n';
  }
  const Content content = read(text);
  for (int c = 0; c < kColumns; ++c) {
    const auto& column = content.values[static_cast<std::size_t>(c)];
    ASSERT_EQ(column.size(), static_cast<std::size_t>(kRows));
    for (int r = 0; r < kRows; ++r)
      ASSERT_EQ(column[static_cast<std::size_t>(r)], static_cast<float>(r + c / 1000.0));
  }
}

TEST_F(DelimitedText, AnErrorFarIntoALargeFileNamesItsLine) {
  std::string text = "time,a\n";
  for (int k = 0; k < 300'000; ++k)
    text += fmt::format("{}.{:03},{}\n", k / 1000, k % 1000, k == 250'000 ? "x" : "1");
  const Content content = read(text);
  EXPECT_NE(content.damage.find("line 250002, column 2"), std::string::npos) << content.damage;
  EXPECT_EQ(content.values[0], std::vector<float>(250'000, 1));
}

TEST_F(DelimitedText, UnitsGoToTheRolesUnit) {
  const Content content =
      read("time,a [psi],b (inHg),c [mmHg],d [uV],e [K]\n0,1,1,1,1,293.15\n1,1,1,1,1,293.15\n");
  EXPECT_NEAR(content.values[0][0], 6.894757, 1e-6);
  EXPECT_NEAR(content.values[1][0], 3.386389, 1e-6);
  EXPECT_NEAR(content.values[2][0], 0.1333224, 1e-7);
  EXPECT_NEAR(content.values[3][0], 1e-6, 1e-12);
  EXPECT_NEAR(content.values[4][0], 20, 1e-4);
}

// Rows that keep an even period get the exact clock, so that text and session file decode alike.
TEST_F(DelimitedText, EvenTimesBecomeAClock) {
  std::string text = "time,motor_a\n";
  for (int k = 0; k < 500; ++k) {
    char row[40];
    std::snprintf(row, sizeof row, "%.6f,%d\n", k / 44100.0, k);  // rounded to the microsecond
    text += row;
  }
  const Content content = read(text);
  for (std::size_t k = 0; k < 500; ++k)
    EXPECT_NEAR(static_cast<double>(content.times_ns[0][k]), 1e9 * static_cast<double>(k) / 44100,
                1000)
        << k;
}

TEST_F(DelimitedText, UnevenTimesStayAsWritten) {
  const Content content = read("time,line_kpa\n0,1\n0.25,2\n0.51,3\n0.74,4\n5,5\n");
  EXPECT_EQ(content.times_ns[0],
            (std::vector<std::int64_t>{0, 250'000'000, 510'000'000, 740'000'000, 5'000'000'000}));
}

TEST_F(DelimitedText, WithoutATimeColumnTheRateIsAsked) {
  EXPECT_NE(refused("motor_a,line_kpa\n1,2\n").line.find("--rate HZ"), std::string::npos);
  const Content content = read("motor_a,line_kpa\n1,2\n3,4\n", {.rate_hz = 10});
  EXPECT_EQ(content.values[1], (std::vector<float>{2, 4}));
  EXPECT_EQ(content.times_ns[0][1], 100'000'000);
  EXPECT_EQ(read("1\n2\n3\n", {.rate_hz = 10}).channels[0].name, "CH1");  // one column, no header
}

TEST_F(DelimitedText, OverloadIsInfinite) {
  const auto values = read("time,motor_a\n0,OL\n1,-inf\n2,3\n").values[0];
  EXPECT_TRUE(std::isinf(values[0]) && values[0] > 0);
  EXPECT_TRUE(std::isinf(values[1]) && values[1] < 0);
}

TEST_F(DelimitedText, BadTablesAreRefusedWithLineAndColumn) {
  struct Case {
    const char* text;
    const char* says;
  };
  const Case cases[] = {
      {"time,a,b\n0,1,2,3\n", "line 2: 4 cells, but the table has 3 columns"},
      {"time,a,b\n0,two,3\n", "line 2, column 2: 'two' is not a number"},
      {"time,a\n1e18,1\n", "line 2, column 1: '1e18' is a time more than 126 years"},
      {"time,a\n4000000001,1\n", "'4000000001' is a time more than 126 years"},
      {"time,a\n9999-12-31T23:59:59Z,1\n", "is a time more than 126 years"},
      {"time,a\nnoon,1\n", "line 2, column 1: 'noon' is not a time"},
      {"time\n0\n1\n", "a time column and nothing else"},
      {"time [parsec],a\n0,1\n", "not a unit of time"},
      {"time,a\n", "no samples"},
      {"# only a comment\n", "no rows"},
      {"hello world, this is a letter\nand no table\n", "line"},
  };
  for (const Case& c : cases) {
    const Refusal said = refused(c.text);
    EXPECT_EQ(said.status, 65) << c.text << said.line;
    EXPECT_NE(said.line.find(c.says), std::string::npos) << c.text << " -> " << said.line;
    EXPECT_EQ(said.line.find('\n'), std::string::npos);
  }
}

// Two rows that print one time keep their order; the second lies half way to the next.
TEST_F(DelimitedText, RowsOfOneTimeAreKeptInOrder) {
  const Content content = read("time,a\n0.0,1\n0.0,2\n0.1,3\n0.2,4\n0.3,5\n0.3,6\n0.5,7\n");
  EXPECT_EQ(content.values[0], (std::vector<float>{1, 2, 3, 4, 5, 6, 7}));
  EXPECT_EQ(content.times_ns[0],
            (std::vector<std::int64_t>{0, 50'000'000, 100'000'000, 200'000'000, 300'000'000,
                                       350'000'000, 500'000'000}));
  EXPECT_EQ(content.damage, "");
}

// What stands before a bad row is used, and the rest is told.
TEST_F(DelimitedText, ABadRowEndsTheTable) {
  struct Case {
    const char* text;
    const char* says;
  };
  const Case cases[] = {
      {"time,a,b\n0,1,2\n1,2\n2,3,4\n", "line 3: 2 cells, but the table has 3 columns"},
      {"time,a,b\n0,1,2\n1,2,3,4\n", "line 3: 4 cells"},
      {"time,a,b\n0,1,2\n1,two,3\n", "line 3, column 2: 'two' is not a number"},
      {"time,a,b\n0,1,2\n1,1,3x\n2,1,1\n", "line 3, column 3: '3x' is not a number"},
      {"time,a,b\n0,1,2\n-0.5,3,1\n", "line 3, column 1: the time goes backwards"},
      {"time,a,b\n0,1,2\n1e300,3,1\n", "'1e300' is a time more than 126 years"},
      {"time,a,b\n0,1,2\nx\xc3\xa4zzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzzz\xc3\xa4zzz,3,1\n",
       "zzz...' is not a time"},
  };
  for (const Case& c : cases) {
    const Content content = read(c.text);
    EXPECT_EQ(content.values[0], (std::vector<float>{1})) << c.text;
    EXPECT_EQ(content.values[1], (std::vector<float>{2})) << c.text;
    EXPECT_NE(content.damage.find(c.says), std::string::npos) << c.text << content.damage;
    EXPECT_NE(content.damage.find("what stands before it was decoded"), std::string::npos);
    EXPECT_LT(content.damage.size(), 400U);
  }
}

TEST_F(DelimitedText, AnEndlessLineBehindSoundRowsEndsTheTable) {
  const Content content = read(fmt::format("time,a\n0,1\n1,{:1>100000000}\n", 1));
  EXPECT_EQ(content.values[0], (std::vector<float>{1}));
  EXPECT_NE(content.damage.find("longer than 1 MiB"), std::string::npos) << content.damage;
}

// "48.15" cut to "4" is a number, too.
TEST_F(DelimitedText, ALastRowWithoutItsLineEndIsToldAndNotUsed) {
  for (const char* const last : {"2,48.15", "2,4", "2,"}) {
    const auto source =
        open_source(folder.write("open.csv", std::string("time,a\n0,1\n1,2\n") + last));
    SampleBlock block;
    std::vector<float> values;
    while (source->next(block))
      values.insert(values.end(), block.values.begin(), block.values.end());
    EXPECT_EQ(values, (std::vector<float>{1, 2})) << last;
    EXPECT_EQ(source->damage(), "");
    ASSERT_EQ(source->remarks().size(), 1U) << last;
    EXPECT_EQ(source->remarks()[0],
              "line 4, the last, has no line end: it may be cut short and is not used");
  }
  EXPECT_TRUE(open_source(folder.write("ended.csv", "time,a\n0,1\n1,2\n"))->remarks().empty());
}

TEST_F(DelimitedText, WhatIsAppendedAfterItWasOpenedIsNotRead) {
  const std::string path = folder.write("grows.csv", "time,a\n0,1\n1,2\n2,3\n");
  const auto source = open_source(path);
  std::ofstream(path, std::ios::app) << "3,4\n4,5\n";
  SampleBlock block;
  std::vector<float> values;
  while (source->next(block)) values.insert(values.end(), block.values.begin(), block.values.end());
  EXPECT_EQ(values, (std::vector<float>{1, 2, 3}));
  EXPECT_EQ(source->damage(), "");
}

TEST_F(DelimitedText, RatesThatCannotBeUsedAreRefused) {
  const std::string path = folder.write("a.csv", "a\n1\n2\n");
  for (const double rate_hz : {std::nan(""), HUGE_VAL, -HUGE_VAL, -1.0, 1e-7, 1e10, 1e300}) {
    const Refusal said = refusal(path, {.rate_hz = rate_hz});
    EXPECT_EQ(said.status, 65) << rate_hz;
    EXPECT_NE(said.line.find("--rate"), std::string::npos) << said.line;
  }
  EXPECT_EQ(read_all(path, {.rate_hz = 1e-6}).times_ns[0][1], 1'000'000'000'000'000);
  EXPECT_EQ(read_all(path, {.rate_hz = 1e9}).times_ns[0][1], 1);
}

TEST_F(DelimitedText, TenThousandColumns) {
  std::string header = "time", row = "0";
  for (int c = 0; c < 10000; ++c) {
    header += ",c" + std::to_string(c);
    row += ",1";
  }
  const Refusal said = refused(header + "\n" + row + "\n");
  EXPECT_EQ(said.status, 65);
  EXPECT_NE(said.line.find("columns"), std::string::npos) << said.line;
}

TEST_F(DelimitedText, AnEndlessLineIsRefusedInConstantMemory) {
  const Refusal said = refused(fmt::format("time,a\n0,{:1>100000000}\n", 1));
  EXPECT_EQ(said.status, 65);
  EXPECT_LT(said.line.size(), 400U);
  EXPECT_NE(said.line.find("line 2"), std::string::npos) << said.line;
}

TEST_F(DelimitedText, ATableCutInItsLastRowIsReadUpToIt) {
  const Content content = read("time,a,b\n0,1,2\n1,3,4\n2,5");
  EXPECT_EQ(content.values[0], (std::vector<float>{1, 3}));
  EXPECT_NE(content.damage.find("line 4: the last row is cut short"), std::string::npos)
      << content.damage;
}

// Rows in rising length, cut at every byte: never a crash, always the sound rows.
TEST_F(DelimitedText, CutAnywhere) {
  const std::string whole = "time,motor_a [mA],line\n0.0,100,5\n0.5,200,6.25\n1.0,300,7\n";
  for (std::size_t n = 0; n <= whole.size(); ++n) {
    const std::string path = folder.write("cut.csv", whole.substr(0, n));
    try {
      const Content content = read_all(path);
      if (content.values[0].size() > 1) {
        EXPECT_FLOAT_EQ(content.values[0][0], 0.1F);
      }
    } catch (const InputError& error) {
      EXPECT_EQ(error.status(), ExitStatus::kUnusableData);
    }
  }
}

}  // namespace
}  // namespace airlatch
