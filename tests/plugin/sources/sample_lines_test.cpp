// SPDX-License-Identifier: GPL-3.0-or-later
// Lines of a pipeline. Line protocol: escapes, types and time stamps by its published description
// (InfluxDB line protocol reference: field types, special characters).
#include "plugin/sources/sample_lines.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace airlatch {
namespace {

TEST(JsonLine, SampleAndBlock) {
  const auto one = parse_json_line(R"({"channel":"motor_a","time_s":1.25,"value":2.31})");
  ASSERT_EQ(one.size(), 1U);
  EXPECT_EQ(one[0].time_ns, 1'250'000'000);
  EXPECT_EQ(one[0].clock.num_ns, 0);
  EXPECT_FLOAT_EQ(one[0].values.at(0), 2.31F);
  const auto block = parse_json_line(
      R"( {"channel":"motor_a","time_s":1700000000.5,"period_s":0.0001,"values":[2.31,null,2]} )");
  EXPECT_EQ(block[0].time_ns, 1'700'000'000'500'000'000);
  EXPECT_EQ(block[0].clock, SampleClock::of_rate(10000, 1, block[0].time_ns));
  EXPECT_TRUE(std::isnan(block[0].values.at(1)));
  // 3 samples a second: no whole number of nanoseconds, yet exact.
  const auto third =
      parse_json_line(R"({"channel":"a","time_s":0,"period_s":0.3333333333333333,"values":[1]})");
  EXPECT_EQ(third[0].clock.time_ns(3'000'000), 1'000'000'000'000'000);
  EXPECT_TRUE(parse_json_line(" \r").empty());
}

TEST(JsonLine, BadLinesSayWhy) {
  for (const char* line :
       {"x", "[1]", R"({"time_s":1,"value":1})", R"({"channel":1,"time_s":1,"value":1})",
        R"({"channel":"a","value":1})", R"({"channel":"a","time_s":"1","value":1})",
        R"({"channel":"a","time_s":1})", R"({"channel":"a","time_s":1,"value":"x"})",
        R"({"channel":"a","time_s":1,"values":[1]})", R"({"channel":"a","time_s":1e300,"value":1})",
        R"({"channel":"a","time_s":1,"period_s":0,"values":[1]})",
        R"({"channel":"a","time_s":1,"period_s":1,"values":3})"})
    EXPECT_THROW(parse_json_line(line), LineError) << line;
}

TEST(JsonLine, TimesAndValuesInOtherUnits) {
  const auto time_ns = [](const char* line, TimeUnit unit) {
    return parse_json_line(line, unit).at(0).time_ns;
  };
  const char* const in_ms = R"({"channel":"a","time":1465839830100,"value":1})";
  EXPECT_EQ(time_ns(in_ms, TimeUnit::kMilliseconds), 1'465'839'830'100'000'000);
  EXPECT_EQ(
      time_ns(R"({"channel":"a","time":1465839830100400200,"value":1})", TimeUnit::kNanoseconds),
      1'465'839'830'100'400'200);
  EXPECT_EQ(time_ns(R"({"channel":"a","time":-2.5,"value":1})", TimeUnit::kMicroseconds), -2'500);
  EXPECT_EQ(
      time_ns(R"({"channel":"a","time":"2016-06-13T17:43:50.1004002Z","value":1})", TimeUnit::kIso),
      1'465'839'830'100'400'200);
  EXPECT_EQ(time_ns(R"({"channel":"a","time_s":2,"value":1})", TimeUnit::kMilliseconds),
            2'000'000'000);                         // says its unit itself
  EXPECT_THROW(parse_json_line(in_ms), LineError);  // seconds of the year 46 450
  EXPECT_THROW(parse_json_line(R"({"channel":"a","time":"noon","value":1})", TimeUnit::kIso),
               LineError);
  const auto pressure =
      parse_json_line(R"({"channel":"line_kpa","time_s":0,"value":1013.25,"unit":"mbar"})");
  EXPECT_FLOAT_EQ(pressure[0].values[0], 101.325F);
  EXPECT_EQ(pressure[0].unit->dimension, Dimension::kPressure);
  EXPECT_FALSE(parse_json_line(in_ms, TimeUnit::kMilliseconds)[0].unit);
  for (const char* const unit : {"\"furlong\"", "\"s\"", "7", "\"\""})
    EXPECT_THROW(
        parse_json_line(std::string(R"({"channel":"a","time_s":0,"value":1,"unit":)") + unit + "}"),
        LineError)
        << unit;
}

TEST(JsonLine, BlocksEndWithinTheTimesThatCount) {
  EXPECT_THROW(
      parse_json_line(R"({"channel":"a","time_s":3999999999,"period_s":1000000,"values":[1,2]})"),
      LineError);
  EXPECT_THROW(parse_json_line(R"({"channel":"a","time_s":0,"value":)" + std::string(2000, '[')),
               LineError);
}

TEST(LineProtocol, StampsInOtherUnits) {
  EXPECT_EQ(parse_line_protocol("m a=1 1465839830100", TimeUnit::kMilliseconds).at(0).time_ns,
            1'465'839'830'100'000'000);
  EXPECT_THROW(parse_line_protocol("m a=1 1465839830100400200", TimeUnit::kMicroseconds),
               LineError);
  EXPECT_EQ(rather_in(1465839830), "s");
  EXPECT_EQ(rather_in(1465839830100), "ms");
  EXPECT_EQ(rather_in(1465839830100400), "us");
  for (const std::int64_t ns :
       {std::int64_t{0}, std::int64_t{20'000'000}, std::int64_t{-1465839830},
        std::int64_t{60'000'000'000}, std::int64_t{1465839830100400200}})
    EXPECT_EQ(rather_in(ns), "") << ns;
}

TEST(LineProtocol, FieldsAreChannels) {
  const auto points = parse_line_protocol(
      R"(my\ pump,place=bench\,left,owner=a motor_a=2.5,count=3i,up=t,line\ kpa=-1e1,n=4u 1465839830100400200)");
  ASSERT_EQ(points.size(), 5U);
  EXPECT_EQ(points[0].channel, "motor_a");
  EXPECT_EQ(points[0].time_ns, 1465839830100400200);
  EXPECT_EQ(points[1].values.at(0), 3);
  EXPECT_EQ(points[2].values.at(0), 1);
  EXPECT_EQ(points[3].channel, "line kpa");
  EXPECT_EQ(points[3].values.at(0), -10);
  EXPECT_EQ(points[4].values.at(0), 4);
  EXPECT_TRUE(parse_line_protocol("# comment").empty());
  EXPECT_TRUE(parse_line_protocol("\r").empty());
}

TEST(LineProtocol, BadLinesSayWhy) {
  for (const char* line :
       {"m", "m ", "m a", "m a= 1", "m a=1", "m a=1 x", "m a=x 1", "m a=\"t\" 1", ",t=1 a=1 1",
        "m,t a=1 1", "m a=1, 1", "m a=1 1 2", "m a=1 99999999999999999999"})
    EXPECT_THROW(parse_line_protocol(line), LineError) << line;
}

}  // namespace
}  // namespace airlatch
