// SPDX-License-Identifier: GPL-3.0-or-later
// One capture in every container of arrays: the same channels, times and numbers out of each.
#include "plugin/sources/arrays.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "tests/support/array_files.hpp"

namespace airlatch {
namespace {
using namespace test;

std::vector<float> as_floats(const std::vector<double>& values) {
  return {values.begin(), values.end()};
}

std::size_t place_of(const Content& content, const std::string& name) {
  for (std::size_t c = 0; c < content.channels.size(); ++c)
    if (content.channels[c].name == name) return c;
  ADD_FAILURE() << "no channel " << name;
  return 0;
}

void expect_drawn(const std::string& path, const OpenOptions& options = {}) {
  const Content content = read_all(path, options);
  const Drawn right = drawn();
  ASSERT_EQ(content.channels.size(), right.channels.size()) << path;
  EXPECT_EQ(content.damage, "");
  for (const auto& [name, values] : right.channels) {
    const std::size_t c = place_of(content, name);
    EXPECT_EQ(content.values[c], as_floats(values)) << path << " " << name;
    EXPECT_EQ(content.channels[c].clock.period_s(), 0.01) << path;
    ASSERT_EQ(content.times_ns[c].size(), right.time_s.size()) << path;
    EXPECT_EQ(content.times_ns[c].back(), std::llround(right.time_s.back() * 1e9)) << path;
  }
}

TEST(Arrays, TheSameOutOfEveryContainer) {
  const Folder folder;
  for (const bool packed : {false, true}) {
    write_mat(folder.at("a.mat"), drawn(), packed);
    expect_drawn(folder.at("a.mat"));
    write_hdf5(folder.at("a.h5"), drawn(), "", 0, packed);
    expect_drawn(folder.at("a.h5"));
    write_npz(folder.at("a.npz"), drawn(), packed);
    expect_drawn(folder.at("a.npz"));
  }
  write_hdf5(folder.at("rate.h5"), drawn(), "", 100);
  expect_drawn(folder.at("rate.h5"));
  expect_drawn(folder.write("a.vcd", vcd(drawn())));
}

TEST(Arrays, UnitsAreApplied) {
  const Folder folder;
  Drawn from = drawn();
  from.channels.erase(from.channels.begin());
  write_hdf5(folder.at("a.h5"), from, "mbar");
  const Content content = read_all(folder.at("a.h5"));
  EXPECT_EQ(content.channels[0].unit, "mbar");
  EXPECT_FLOAT_EQ(content.values[0].back(),
                  static_cast<float>(from.channels[0].second.back() / 10));
}

TEST(Arrays, NumbersOfEveryTypeAndOrder) {
  const Folder folder;
  const std::vector<double> values = {0, 1, 2, 3, 100};
  const auto expect = [&](const std::string& content) {
    const Content read = read_all(folder.write("a.npy", content), {.rate_hz = 10});
    EXPECT_EQ(read.values.at(0), as_floats(values));
  };
  expect(npy("'<f4'", "(5,)", bytes_of<float>(values)));
  expect(npy("'<i2'", "(5,)", bytes_of<std::int16_t>(values)));
  expect(npy("'|u1'", "(5, 1)", bytes_of<std::uint8_t>(values)));
  expect(npy("'<i8'", "(1, 5)", bytes_of<std::int64_t>(values)));
  std::string swapped = bytes_of<std::int32_t>(values);
  for (std::size_t k = 0; k < swapped.size(); k += 4)
    std::reverse(swapped.begin() + static_cast<long>(k),
                 swapped.begin() + static_cast<long>(k) + 4);
  expect(npy("'>i4'", "(5,)", swapped));
  // IEEE 754 binary16: 0, 1, 2, 3, 100
  expect(npy("'<f2'", "(5,)", std::string("\x00\x00\x00\x3c\x00\x40\x00\x42\x40\x56", 10)));
}

TEST(Arrays, TwoDimensionsAreColumnsOfTheLongerOne) {
  const Folder folder;
  const std::string bytes = bytes_of<double>({1, 10, 2, 20, 3, 30});
  for (const auto& [shape, fortran] : {std::pair{"(3, 2)", false}, {"(2, 3)", true}}) {
    const Content read =
        read_all(folder.write("a.npy", npy("'<f8'", shape, bytes, fortran)), {.rate_hz = 1});
    ASSERT_EQ(read.values.size(), 2U) << shape;
    EXPECT_EQ(read.values[0], (std::vector<float>{1, 2, 3})) << shape;
    EXPECT_EQ(read.values[1], (std::vector<float>{10, 20, 30})) << shape;
  }
}

TEST(Arrays, RecordsAndTimesOfTheirOwn) {
  const Folder folder;
  std::string bytes;
  const std::vector<double> times_ms = {0, 10, 25, 70};  // not even
  for (const double t : times_ms) bytes += bytes_of<std::int32_t>({t}) + bytes_of<float>({t / 10});
  const Content read = read_all(
      folder.write("a.npy", npy("[('time_ms', '<i4'), ('line_kpa', '<f4')]", "(4,)", bytes)));
  ASSERT_EQ(read.channels.size(), 1U);
  EXPECT_EQ(read.channels[0].name, "line_kpa");
  EXPECT_EQ(read.times_ns[0], (std::vector<std::int64_t>{0, 10'000'000, 25'000'000, 70'000'000}));
}

TEST(Arrays, EachChannelHasTheTimesOfItsGroup) {
  const Folder folder;
  write_zip(folder.at("a.npz"), {{"fast/t.npy", npy({0, 0.1, 0.2, 0.3})},
                                 {"fast/motor_a.npy", npy({1, 2, 3, 4})},
                                 {"slow/t.npy", npy({0, 2})},
                                 {"slow/line_kpa.npy", npy({5, 6})}});
  const Content read = read_all(folder.at("a.npz"));
  EXPECT_EQ(read.channels[place_of(read, "motor_a")].clock, SampleClock::of_rate(10));
  EXPECT_EQ(read.times_ns[place_of(read, "line_kpa")].back(), 2'000'000'000);
}

// What is not told is asked for, and the advice works.
TEST(Arrays, WhatIsNotToldIsAskedFor) {
  const Folder folder;
  const auto refused = [&](const Entries& entries, const OpenOptions& options = {}) {
    write_zip(folder.at("x.npz"), entries);
    return refusal(folder.at("x.npz"), options).line;
  };
  const std::string line = npy({1, 2, 3});
  EXPECT_NE(refused({{"line_kpa.npy", line}}).find("--rate HZ"), std::string::npos);
  EXPECT_EQ(refused({{"line_kpa.npy", line}}, {.rate_hz = 10}), "");
  EXPECT_EQ(
      refused({{"line_kpa.npy", line}, {"fs.npy", npy("'<f8'", "()", bytes_of<double>({10}))}}),
      "");
  // Two arrays that may be its times.
  EXPECT_NE(
      refused({{"line_kpa.npy", line}, {"t.npy", npy({0, 1, 2})}, {"time.npy", npy({0, 2, 4})}})
          .find("may be its times"),
      std::string::npos);
  // Seconds, or milliseconds?
  EXPECT_NE(refused({{"line_kpa.npy", line}, {"t.npy", npy({0, 10, 20})}}).find("in which unit"),
            std::string::npos);
  EXPECT_EQ(
      refused({{"line_kpa.npy", line}, {"t.npy", npy({0, 10, 20})}}, {.text = {.time_unit = "ms"}}),
      "");
  EXPECT_EQ(refused({{"line_kpa.npy", line}, {"t_ms.npy", npy({0, 10, 20})}}), "");
  // A rate that the times contradict.
  EXPECT_NE(refused({{"line_kpa.npy", line},
                     {"t.npy", npy({0, 10, 20})},
                     {"fs.npy", npy("'<f8'", "()", bytes_of<double>({100}))}})
                .find("samples a second"),
            std::string::npos);
}

TEST(Arrays, ACutFileIsRefused) {
  const Folder folder;
  const std::string whole = npy({1, 2, 3, 4});
  EXPECT_NE(refusal(folder.write("a.npy", whole.substr(0, whole.size() - 1)), {.rate_hz = 1})
                .line.find("cut short"),
            std::string::npos);
  write_hdf5(folder.at("a.h5"), drawn());
  const std::string hdf5 = read_file(folder.at("a.h5"));
  EXPECT_EQ(refusal(folder.write("b.h5", hdf5.substr(0, hdf5.size() / 2))).status, 65);
}

// Wires hold their level between changes, whatever the times between.
TEST(ValueChanges, AWireHoldsBetweenItsChanges) {
  const Folder folder;
  const Content read = read_all(folder.write(
      "a.vcd",
      "$timescale 10 ms $end $var wire 1 ! command $end $var reg 4 \" level [3:0] $end\n"
      "$enddefinitions $end\n#0 0! b101 \" #100 1! #101 x! b1111 \"\n#300 0!\n"));
  ASSERT_EQ(read.channels.size(), 2U);
  EXPECT_TRUE(read.channels[0].logic);
  EXPECT_EQ(read.channels[0].clock.period_s(), 1e-3);
  ASSERT_EQ(read.values[0].size(), 3001U);  // 3 s, and the last change itself
  EXPECT_EQ(read.values[0][999], 0);
  EXPECT_EQ(read.values[0][1000], 1);
  EXPECT_TRUE(std::isnan(read.values[0][1010]));
  EXPECT_EQ(read.values[0][3000], 0);
  EXPECT_EQ(read.values[1][1009], 5);
  EXPECT_EQ(read.values[1][1010], 15);
}

TEST(ValueChanges, NonsenseEndsThem) {
  const Folder folder;
  const Content read = read_all(folder.write(
      "a.vcd",
      "$timescale 1 ms $end $var real 64 ! v $end $enddefinitions $end #0 r1 ! #1 r2 ! nonsense"));
  EXPECT_EQ(read.values[0], (std::vector<float>{1, 2}));
  EXPECT_NE(read.damage.find("no change of a value"), std::string::npos);
}

TEST(ForeignFiles, AreNamed) {
  const Folder folder;
  const auto said = [&](const std::string& head) {
    return refusal(folder.write("x", head + std::string(64, '\0'))).line;
  };
  EXPECT_NE(said("PAR1").find("a Parquet file"), std::string::npos);
  EXPECT_NE(said("TDSm").find("a TDMS file"), std::string::npos);
  EXPECT_NE(said("MDF     ").find("an MDF measurement file"), std::string::npos);
  EXPECT_NE(said("ARROW1").find("an Arrow file"), std::string::npos);
  EXPECT_NE(said("CDF\x01").find("netCDF"), std::string::npos);
  write_zip(folder.at("x.zip"), {{"[Content_Types].xml", "<x/>"}, {"xl/workbook.xml", "<x/>"}});
  EXPECT_NE(refusal(folder.at("x.zip")).line.find("spreadsheet"), std::string::npos);
  // A column may have such a name.
  EXPECT_EQ(read_all(folder.write("x.csv", "time,PAR1\n0,1\n1,2\n")).channels[0].name, "PAR1");
}

}  // namespace
}  // namespace airlatch
