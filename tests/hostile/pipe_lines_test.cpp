// SPDX-License-Identifier: GPL-3.0-or-later
// Lines of the pipe made to be wrong, in both languages: each is taken or told with its number and
// passed over, and those around it still give their events.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <random>

#include "tests/hostile/hostile_text.hpp"
#include "tests/hostile/trial.hpp"
#include "tests/support/files.hpp"
#include "tests/support/program.hpp"

namespace airlatch::hostile {
namespace {

// A motor that is fed from 1 to 2 s, 100 samples a second.
std::vector<std::string> sound_lines(bool json) {
  std::vector<std::string> out;
  for (int k = 0; k < 300; ++k) {
    const int value = k >= 100 && k < 200 ? 5 : 0;
    out.push_back(
        json ? fmt::format(R"({{"channel":"motor_a","time_s":{:.2f},"value":{}}})", 0.01 * k, value)
             : fmt::format("pump,bench=a motor_a={} {}", value, k * 10'000'000L));
  }
  return out;
}

std::string joined(const std::vector<std::string>& lines) {
  std::string out;
  for (const std::string& line : lines) out += line + "\n";
  return out;
}

std::vector<std::string> words(bool json) {
  return json
             ? std::vector<std::string>{"pipe", "--channels", "motor_a"}
             : std::vector<std::string>{"pipe", "--channels", "motor_a", "--from", "line-protocol"};
}

std::string expected_events(bool json) {
  const test::Folder folder;
  return run_trial(words(json), folder.write("in", joined(sound_lines(json)))).out;
}

// Bad ones: none of them holds a sample of motor_a, whatever it is.
std::vector<std::string> bad_lines(bool json) {
  std::vector<std::string> out = {"{",  "[]",      "null", "\"",  "\\",
                                  "{}", "motor_a", "=",    ",,,", "# x"};
  for (const char* number : {"nan", "inf", "1e999", "-1e308", "\"1\"", "[]", "{}", "true"}) {
    out.push_back(fmt::format(R"({{"channel":"motor_a","time_s":{},"value":1}})", number));
    out.push_back(
        fmt::format(R"({{"channel":"motor_a","time_s":1,"period_s":{},"values":[1,1]}})", number));
    out.push_back(fmt::format("pump motor_a=1 {}", number));
  }
  out.emplace_back(R"({"channel":"motor_a","time_s":1,"period_s":1e6,"values":[)" +
                   std::string(9998, '1') + "x]}");
  out.emplace_back(
      R"({"channel":"motor_a","time_s":3999999999,"period_s":1000000,"values":[1,2]})");
  out.emplace_back(R"({"channel":"motor_a","time_s":1,"value":1,"unit":"furlong"})");
  out.emplace_back(R"({"channel":"motor_a","time_s":1,"value":1,"unit":"kPa"})");
  out.emplace_back(R"({"channel":"motor_a","time_s":1,"value":1,"unit":7})");
  out.emplace_back(R"({"channel":"motor_a","time":1e300,"value":1})");
  out.emplace_back(std::string(300'000, '['));
  out.emplace_back("{\"channel\":\"motor_a\",\"x\":" + std::string(100'000, '{'));
  out.emplace_back("pump motor_a=" + std::string(100'000, '9') + "x 1");
  out.emplace_back("pump motor_a=1 99999999999999999999999999");
  out.emplace_back("pump motor_a=1 -9223372036854775808");
  for (const std::string& text : hostile_texts()) {
    std::string line;
    for (const char c : text)
      if (c != '\n') line += c;
    out.push_back(line);
    out.push_back(json ? "{\"channel\":" + quoted_text(line, true) + ",\"time_s\":1,\"value\":}"
                       : "pump,t=" + line + " motor_a=\"" + line + "\" 1");
  }
  return out;
}

void expect_passed_over(bool json, const std::vector<std::string>& lines, const std::string& events,
                        const std::string& input, Tally& tally) {
  const test::Folder folder;
  const Trial trial = run_trial(words(json), folder.write("in", joined(lines)));
  tally.count(trial, input);
  EXPECT_EQ(trial.status, 0) << input << "\n" << trial.err;
  if (trial.out != events) tally.lost(input + ": events of the sound lines\n" + trial.out);
  EXPECT_EQ(unclear(trial.err + "airlatch: as if it were refused\n"), "") << input << trial.err;
}

TEST(PipeLines, BadOnesArePassedOverAndTheOthersStay) {
  Tally tally("pipe_lines bad");
  for (const bool json : {true, false}) {
    const std::string events = expected_events(json);
    EXPECT_NE(events.find("MOTOR_START"), std::string::npos);
    for (const std::string& bad : bad_lines(json)) {
      std::vector<std::string> lines = sound_lines(json);
      lines.insert(lines.begin() + 150, bad);
      expect_passed_over(json, lines, events, bad.substr(0, 100), tally);
    }
  }
}

TEST(PipeLines, FlippedOnes) {
  Tally tally("pipe_lines flips");
  std::mt19937 random(1504);
  for (int k = 0; k < draws(100); ++k) {
    const bool json = random() % 2 == 0;
    std::string text = joined(sound_lines(json));
    for (std::size_t flips = 1 + random() % 20; flips > 0; --flips)
      text[random() % text.size()] = static_cast<char>(random() % 256);
    const test::Folder folder;
    const Trial trial = run_trial(words(json), folder.write("in", text));
    tally.count(trial, "seed 1504, number " + std::to_string(k));
  }
}

TEST(PipeLines, NothingButBadOnesIsRefused) {
  Tally tally("pipe_lines refused");
  const test::Folder folder;
  for (const bool json : {true, false})
    for (const int count : {1, 5000}) {
      std::vector<std::string> lines;
      for (int k = 0; k < count; ++k) lines.push_back("no sample " + std::to_string(k));
      const Trial trial = run_trial(words(json), folder.write("in", joined(lines)));
      tally.count(trial, std::to_string(count));
      EXPECT_EQ(trial.status, 65) << trial.err;
      EXPECT_LT(test::lines(trial.err), 15U);
    }
}

TEST(PipeLines, VeryManyChannelsCostNoMoreThanTheirLines) {
  Tally tally("pipe_lines channels");
  const test::Folder folder;
  std::string text;
  for (int k = 0; k < 100'000; ++k)
    text += fmt::format("{{\"channel\":\"c{}\",\"time_s\":{:.5f},\"value\":1}}\n", k, 1e-5 * k);
  text += joined(sound_lines(true));
  for (int k = 0; k < 100'000; ++k)
    text +=
        fmt::format("{{\"channel\":\"late{}\",\"time_s\":{:.5f},\"value\":1}}\n", k, 3 + 1e-5 * k);
  const Trial trial = run_trial({"pipe"}, folder.write("in", text));
  tally.count(trial, "100 000 channels at the beginning and late");
  EXPECT_NE(trial.out.find("MOTOR_START"), std::string::npos);
  EXPECT_LT(test::lines(trial.err), 20U);
}

TEST(PipeLines, EndlessLinesAreBounded) {
  Tally tally("pipe_lines endless");
  const test::Folder folder;
  const std::string deep = folder.write("deep", std::string(20 << 20, '['));
  tally.count(run_trial({"pipe"}, deep), "20 MiB of [");
  const std::string wide = folder.write(
      "wide", "{\"channel\":\"motor_a\",\"time_s\":0,\"period_s\":1e-4,\"values\":[0" + [] {
        std::string zeros;
        while (zeros.size() < (15 << 20)) zeros += ",0";
        return zeros;
      }() + "]}\n");
  tally.count(run_trial({"pipe"}, wide), "15 MiB of values");
}

}  // namespace
}  // namespace airlatch::hostile
