// SPDX-License-Identifier: GPL-3.0-or-later
// Every option that takes a number, of every command, with what is no number or none of its range:
// refused with the range, or taken where it is within; nothing hangs. The options are those that
// the program's own manual page lists, so that a new one is tried without a line here.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <random>
#include <regex>

#include "tests/hostile/trial.hpp"
#include "tests/support/files.hpp"

namespace airlatch::hostile {
namespace {

struct NumericOption {
  std::string command, name;  // "ledger show"; "--rate", or "" for an operand
  bool integer = false;
  double least = 0, most = 0;
  std::string from_to;  // as the page and errors have it
};

// Out of `airlatch --describe man`.
std::vector<NumericOption> numeric_options() {
  std::string page = run_trial({"--describe", "man"}).out;
  std::erase(page, '\\');
  std::vector<NumericOption> options;
  const std::regex heading(R"(\.SS (.*))"),
      number(R"(^(?:fB(--[^ ]+?)fR|fI[A-Z]+fR) fI(NUMBER|INTEGER) (from ([^ ]+) to ([^ ]+?))fR$)");
  std::istringstream lines(page);
  std::string command;
  for (std::string line; std::getline(lines, line);) {
    std::smatch found;
    if (std::regex_match(line, found, heading)) command = found[1];
    if (std::regex_match(line, found, number))
      options.push_back({.command = command,
                         .name = found[1],
                         .integer = found[2] == "INTEGER",
                         .least = std::stod(found[4]),
                         .most = std::stod(found[5]),
                         .from_to = found[3]});
  }
  return options;
}

class Bench {
 public:
  Bench() {
    folder_.write("a.csv", "time_s,motor_a\n0,0\n0.1,0\n0.2,5\n0.3,5\n");
    folder_.write("a.job", "capture { file: \"a.csv\" }\n");
  }
  // The command with what it needs besides: it ends soon, whatever the number.
  [[nodiscard]] std::vector<std::string> words(const NumericOption& option,
                                               const std::string& value) const {
    std::vector<std::string> out;
    std::istringstream command(option.command);
    for (std::string word; command >> word;) out.push_back(word);
    const auto add = [&](std::initializer_list<std::string> more) { out.insert(out.end(), more); };
    const std::string csv = folder_.at("a.csv");
    if (out[0] == "replay") add({csv});
    if (out[0] == "compare") add({csv, csv});
    if (out[0] == "report") add({folder_.at("a.job"), "--report", folder_.at("report"), "--quiet"});
    if (out[0] == "capture") add({"of-no-such-driver"});
    if (out[0] == "rehearse") {
      add({"motor-seized", "--out", folder_.at("made.csv"), "--quiet"});
      if (option.name != "--rate") add({"--rate", "10"});
    }
    if (out[0] == "ledger") add({"--ledger", folder_.at("ledger.sqlite")});
    if (option.name.empty())
      add({"--", value});
    else
      add({option.name + "=" + value});
    return out;
  }

 private:
  test::Folder folder_;
};

// A decimal number within the option's range.
bool is_within(const NumericOption& option, const std::string& text) {
  static const std::regex integer(R"([+-]?\d+)"),
      decimal(R"([+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?)");
  if (!std::regex_match(text, option.integer ? integer : decimal)) return false;
  const double value = std::strtod(text.c_str(), nullptr);  // of 1e-400: 0, which is refused, too
  if (value == 0 && text.find_first_of("123456789") < text.find_first_of("eE")) return false;
  return value >= option.least && value <= option.most;
}

std::string drawn(std::mt19937& random) {
  static constexpr char kMarks[] = "0123456789+-.eExXnaif,_ uULl%'\"";
  std::string text;
  const auto length = random() % 12;
  for (std::size_t k = 0; k < length; ++k) text += kMarks[random() % (sizeof kMarks - 1)];
  return text;
}

void expect_taken_or_told(const Bench& bench, const NumericOption& option, const std::string& value,
                          Tally& tally) {
  const Trial trial = run_trial(bench.words(option, value));
  const std::string input = option.command + " " + option.name + "=" + value;
  tally.count(trial, input);
  if (is_within(option, value)) {
    EXPECT_NE(trial.status, 64) << input << "\n" << trial.err;
  } else {
    EXPECT_EQ(trial.status, 64) << input << "\n" << trial.err;
    EXPECT_NE(trial.err.find(option.from_to), std::string::npos) << input << "\n" << trial.err;
  }
}

TEST(Options, NumbersAreWithinTheirRangeOrRefusedWithIt) {
  const std::vector<NumericOption> options = numeric_options();
  EXPECT_GE(options.size(), 13U);
  const Bench bench;
  Tally tally("options");
  std::size_t which = 0;
  for (const NumericOption& option : options)
    for (const char* const value :
         {"nan",   "-nan",   "NaN(1)", "inf",   "-inf", "1e308",
          "1e309", "-1",     "-0.001", "",      " ",    "123456789012345678901234",
          "0x10",  "1e-400", "1,5",    "1.5.2", "5 5",  "1e",
          "--",    "٣"})
      if (walked(which++)) expect_taken_or_told(bench, option, value, tally);
  std::mt19937 random(15);
  for (int k = 0; k < draws(100); ++k)
    expect_taken_or_told(bench, options[random() % options.size()], drawn(random), tally);
}

}  // namespace
}  // namespace airlatch::hostile
