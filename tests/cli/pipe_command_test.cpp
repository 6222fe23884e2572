// SPDX-License-Identifier: GPL-3.0-or-later
// airlatch pipe, from outside.
#include <gtest/gtest.h>

#include "plugin/message/event_json.hpp"
#include "plugin/rehearse/rehearsal.hpp"
#include "plugin/rehearse/write.hpp"
#include "tests/support/decode.hpp"
#include "tests/support/program.hpp"
#include "tests/support/score.hpp"

namespace airlatch {
namespace {
using namespace test;

const Rehearsal& capture() {
  static const Rehearsal r =
      rehearse({.fault = "line-leak", .rate_hz = 1000, .seed = 81, .hold_s = 6});
  return r;
}

// Blocks of `cut` samples, all channels in turn.
std::string json_blocks(const Rehearsal& r, std::size_t cut) {
  std::string out;
  char text[64];
  const std::size_t n = r.channels[0].values.size();
  for (std::size_t at = 0; at < n; at += cut)
    for (const auto& channel : r.channels) {
      std::snprintf(text, sizeof text, "\",\"time_s\":%.3f,\"period_s\":0.001,\"values\":[",
                    1e-3 * static_cast<double>(at));
      out += "{\"channel\":\"" + channel.name + text;
      for (std::size_t k = at; k < std::min(n, at + cut); ++k) {
        std::snprintf(text, sizeof text, "%s%.9g", k > at ? "," : "",
                      static_cast<double>(channel.values[k]));
        out += text;
      }
      out += "]}\n";
    }
  return out;
}

std::string expected() {
  std::string out;
  for (const Event& event : decode_rehearsal(capture())) out += event_json(event) + "\n";
  return out;
}

TEST(PipeCommand, BlocksGiveTheEventsOfTheDecoders) {
  const Folder folder;
  write_rig(folder.at("bench.rig"), capture());
  // In small turns, and each channel whole before the next: the same events.
  for (const std::size_t cut : {std::size_t{100}, std::size_t{1'000'000}}) {
    folder.write("in", json_blocks(capture(), cut));
    const Ran ran = run({"pipe", "--rig", folder.at("bench.rig")}, "", folder.at("in"));
    EXPECT_EQ(ran.status, 0) << ran.err;
    EXPECT_EQ(ran.out, expected()) << cut;
  }
}

TEST(PipeCommand, LineProtocolInAndOut) {
  const Folder folder;
  write_rig(folder.at("bench.rig"), capture());
  std::string in = "# a comment\n";
  char text[64];
  constexpr std::int64_t kStart_ns = 1'700'000'000'000'000'000;
  for (std::size_t k = 0; k < capture().channels[0].values.size(); ++k) {
    in += "pump\\ one,bench=a\\,b ";
    for (std::size_t c = 0; c < capture().channels.size(); ++c) {
      std::snprintf(text, sizeof text, "%s%s=%.9g", c ? "," : "",
                    capture().channels[c].name.c_str(),
                    static_cast<double>(capture().channels[c].values[k]));
      in += text;
    }
    in += " " + std::to_string(kStart_ns + static_cast<std::int64_t>(k) * 1'000'000) + "\n";
  }
  folder.write("in", in);
  const Ran ran = run(
      {"pipe", "--rig", folder.at("bench.rig"), "--from", "line-protocol", "--to", "line-protocol"},
      "", folder.at("in"));
  EXPECT_EQ(ran.status, 0) << ran.err;
  const auto truth = decode_rehearsal(capture());
  EXPECT_EQ(lines(ran.out), truth.size());
  // The first cut-off, at the sender's own time stamp.
  const auto cut = of_kind(truth, Kind::STALL_CUTOFF).at(0);
  const std::size_t at = ran.out.find("kind=STALL_CUTOFF");
  ASSERT_NE(at, std::string::npos);
  const std::size_t end = ran.out.find('\n', at), stamp = ran.out.rfind(' ', end);
  // Why a measure is missing comes along.
  EXPECT_LT(ran.out.find("motor_resistance: needs 5000 samples a second", at), end);
  EXPECT_NEAR(
      static_cast<double>(std::stoll(ran.out.substr(stamp + 1, end - stamp)) - kStart_ns) * 1e-9,
      cut.time_s, 2e-3);
}

TEST(PipeCommand, ABadLineIsPassedOverOrStops) {
  const Folder folder;
  write_rig(folder.at("bench.rig"), capture());
  const std::string good = json_blocks(capture(), 500);
  const std::size_t middle = good.find('\n', good.size() / 2) + 1;
  folder.write("in",
               good.substr(0, middle) + "{\"channel\":3}\n\nnonsense\n" + good.substr(middle));
  const Ran ran = run({"pipe", "--rig", folder.at("bench.rig")}, "", folder.at("in"));
  EXPECT_EQ(ran.status, 0);
  EXPECT_EQ(ran.out, expected());
  EXPECT_EQ(lines(ran.err), 2U) << ran.err;
  const Ran strict =
      run({"pipe", "--rig", folder.at("bench.rig"), "--strict"}, "", folder.at("in"));
  EXPECT_EQ(strict.status, 65);
  EXPECT_NE(strict.err.find(", line "), std::string::npos);
}

// One sender of several that writes a name in capitals ends nothing: it is the same channel.
TEST(PipeCommand, NamesInAnyCaseAreOneChannel) {
  const Folder folder;
  write_rig(folder.at("bench.rig"), capture());
  std::string text = json_blocks(capture(), 500);
  for (std::size_t at = text.find("motor_a", text.size() / 3); at < text.size() / 2;
       at = text.find("motor_a", at))
    text.replace(at, 7, "Motor_A");
  folder.write("in", text);
  const Ran ran = run({"pipe", "--rig", folder.at("bench.rig")}, "", folder.at("in"));
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_EQ(ran.out, expected());
}

TEST(PipeCommand, StampsThatLieIn1970AreAskedAbout) {
  const Folder folder;
  std::string text;
  for (int k = 0; k < 300; ++k)
    text += "pump motor_a=" + std::string(k / 100 == 1 ? "5 " : "0 ") +
            std::to_string(1465839830100 + 10 * k) + "\n";
  folder.write("in", text);
  const auto ran = [&](const std::string& unit) {
    return run({"pipe", "--from", "line-protocol", unit}, "", folder.at("in"));
  };
  const Ran asked = ran("--quiet");
  EXPECT_EQ(asked.status, 65);
  EXPECT_NE(asked.err.find("line 1: "), std::string::npos) << asked.err;
  EXPECT_NE(asked.err.find("--time-unit ms"), std::string::npos) << asked.err;
  EXPECT_NE(ran("--time-unit=ms").out.find("MOTOR_START"), std::string::npos);
  EXPECT_EQ(ran("--time-unit=ns").status, 0);  // 3 ms, if that is meant
  EXPECT_EQ(ran("--time-unit=iso").status, 64);
}

TEST(PipeCommand, UnitsAreThoseOfTheLine) {
  const Folder folder;
  const auto events = [&](const char* channel, double factor, const char* unit) {
    std::string text;
    char line[160];
    for (int k = 0; k < 300; ++k) {
      std::snprintf(line, sizeof line,
                    "{\"channel\":\"%s\",\"time_s\":%.2f,\"value\":%g,\"unit\":\"%s\"}\n", channel,
                    0.01 * k, k / 100 == 1 ? 5 * factor : 0, unit);
      text += line;
    }
    folder.write("in", text);
    return run({"pipe"}, "", folder.at("in"));
  };
  const Ran amperes = events("motor_a", 1, "A"), milli = events("motor_a", 1000, "mA");
  EXPECT_NE(amperes.out.find("MOTOR_START"), std::string::npos);
  EXPECT_EQ(milli.out, amperes.out);
  const Ran wrong = events("motor_a", 1, "kPa");
  EXPECT_EQ(wrong.status, 65);
  EXPECT_NE(wrong.err.find("unit does not fit the role MOTOR_CURRENT"), std::string::npos);
}

TEST(PipeCommand, UnusableChannelsAndEmptyInput) {
  const Folder folder;
  folder.write("in", "{\"channel\":\"CH1\",\"time_s\":0,\"value\":1}\n");
  EXPECT_EQ(run({"pipe"}, "", folder.at("in")).status, 65);
  EXPECT_EQ(run({"pipe"}).status, 0);
  folder.write("in", "nonsense\n\n{}\n");
  const Ran bad = run({"pipe"}, "", folder.at("in"));
  EXPECT_EQ(bad.status, 65);
  EXPECT_NE(bad.err.find("airlatch: standard input, line 1: no line of it holds a sample"),
            std::string::npos)
      << bad.err;
  EXPECT_EQ(run({"pipe", "--from", "xml"}).status, 64);
}

}  // namespace
}  // namespace airlatch
