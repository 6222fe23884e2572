// SPDX-License-Identifier: GPL-3.0-or-later
// Channel names made to break delimited text: exported and read back they are the same names, as
// they are shown, with the same samples, and no cell is one that a spreadsheet executes.
#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "plugin/recorder/csv_cell.hpp"
#include "plugin/recorder/csv_writer.hpp"
#include "plugin/system/shown_text.hpp"
#include "tests/hostile/trial.hpp"
#include "tests/support/files.hpp"

namespace airlatch::hostile {
namespace {
using test::Content;
using test::Folder;
using test::read_file;

constexpr std::uint64_t kSeed = 20260313;

const std::vector<std::string> kNames = {"plain",
                                         "a,b",
                                         "a;b",
                                         "a\tb",
                                         "a\"b",
                                         "\"",
                                         "\"\"",
                                         "\"a\"",
                                         "a\"\"b",
                                         "=1+1",
                                         "+1",
                                         "-1",
                                         "@x",
                                         "'=1",
                                         "=cmd|' /C calc'!A0",
                                         "motor (mA)",
                                         "motor [A]",
                                         "x ()",
                                         "x []",
                                         "(kPa)",
                                         "[",
                                         ")",
                                         "a\nb",
                                         "a\r\nb",
                                         "\x1b[31mred",
                                         "\xe2\x80\xae"
                                         "rtl",
                                         "\xff\xfe",
                                         " blanks ",
                                         "",
                                         "  ",
                                         "time",
                                         "time_s",
                                         "#",
                                         ";",
                                         "1.5",
                                         "OL",
                                         "nan",
                                         "V",
                                         "kPa",
                                         "\\n",
                                         "a\\",
                                         "#comment",
                                         "\xc2\xb5 \xc2\xb0"};

std::string longest_name() { return std::string(5000, 'n'); }

// What the reader shall find: the shown text, harmless, without blanks around it.
std::string expected(const std::string& name, std::size_t number) {
  std::string shown = shown_text(name, CsvWriter::kLongestName);
  shown.erase(shown.find_last_not_of(' ') + 1);
  shown.erase(0, shown.find_first_not_of(' '));
  if (shown.empty()) return "CH" + std::to_string(number);
  return std::string("=+-@").find(shown[0]) != std::string::npos ? "'" + shown : shown;
}

std::string written(const std::vector<std::string>& names, const std::vector<float>& first,
                    const Folder& folder) {
  std::vector<SourceChannel> channels;
  for (const std::string& name : names)
    channels.push_back({.name = name, .clock = SampleClock::of_rate(100)});
  const std::string path = folder.at("out.csv");
  WholeFile file(path);
  CsvWriter writer(file, channels);
  for (std::size_t c = 0; c < names.size(); ++c) {
    const float values[] = {first[c], -first[c], first[c] / 3};
    writer.add({.channel = c, .clock = SampleClock::of_rate(100), .values = values});
  }
  writer.finish();
  file.commit();
  return path;
}

void check(const std::vector<std::string>& names, std::mt19937_64& random) {
  const Folder folder;
  std::vector<float> first;
  for (std::size_t c = 0; c < names.size(); ++c)
    first.push_back(std::ldexp(static_cast<float>(random() % 100'000), -7));
  const std::string path = written(names, first, folder);
  const Content content = test::read_all(path);
  ASSERT_EQ(content.channels.size(), names.size()) << read_file(path);
  for (std::size_t c = 0; c < names.size(); ++c) {
    EXPECT_EQ(content.channels[c].name, expected(names[c], c + 1)) << read_file(path);
    EXPECT_EQ(content.channels[c].unit, "");
    EXPECT_EQ(content.values[c], (std::vector<float>{first[c], -first[c], first[c] / 3}));
  }
  // Written again it is the same text.
  const Trial again = run_trial({"export", path, "--to", "csv", "--out", folder.at("again.csv")});
  EXPECT_EQ(again.status, 0) << again.err;
  EXPECT_EQ(read_file(folder.at("again.csv")), read_file(path));
}

TEST(CsvNames, ComeBackAsTheyAreShown) {
  Tally tally("csv names");
  std::mt19937_64 random(kSeed);
  for (const std::string& name : kNames) {
    check({name}, random);
    check({"first", name, "last"}, random);
  }
  check({longest_name(), "other"}, random);
  for (int k = 0; k < draws(20); ++k) {
    std::vector<std::string> names;
    for (std::size_t n = 1 + random() % 6; names.size() < n;) {
      std::string name;
      for (std::size_t parts = 1 + random() % 3; parts > 0; --parts)
        name += kNames[random() % kNames.size()];
      if (std::find(names.begin(), names.end(), name) == names.end()) names.push_back(name);
    }
    check(names, random);
    tally.count(Trial{}, std::to_string(k));
  }
}

TEST(CsvNames, NoCellIsExecuted) {
  for (const std::string& name : kNames) {
    std::string cell = csv_cell(name);
    if (!cell.empty() && cell[0] == '"') cell.erase(0, 1);
    EXPECT_TRUE(cell.empty() || std::string("=+-@\t\r").find(cell[0]) == std::string::npos) << cell;
  }
}

// A unit that was applied to the values is not written beside them again.
TEST(CsvNames, ValuesKeepTheirSize) {
  const Folder folder;
  const std::string in =
      folder.write("in.csv", "time_s,x [mA],p [psi]\n0,100,1\n1,200,2\n2,300,3\n");
  ASSERT_EQ(run_trial({"export", in, "--to", "csv", "--out", folder.at("out.csv")}).status, 0);
  EXPECT_EQ(test::read_all(in).values, test::read_all(folder.at("out.csv")).values);
}

}  // namespace
}  // namespace airlatch::hostile
