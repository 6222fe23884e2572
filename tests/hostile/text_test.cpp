// SPDX-License-Identifier: GPL-3.0-or-later
// Hostile texts in names of files, channels and units and in what users type, through every command
// that shows them: no output steers a terminal, and each is what its format wants.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <filesystem>
#include <nlohmann/json.hpp>
#include <random>
#include <regex>

#include "plugin/recorder/sr_writer.hpp"
#include "plugin/system/utf8.hpp"
#include "tests/hostile/hostile_text.hpp"
#include "tests/hostile/trial.hpp"
#include "tests/support/files.hpp"

namespace airlatch::hostile {
namespace {

// Nothing, or what in a text for people steers what shows it.
std::string steering(const std::string& text) {
  if (text.empty()) return "";
  // The same measure as of stderr's lines, each within its length.
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    for (std::size_t at = 0; at < line.size();) {  // unclear() wants short lines
      std::size_t to = std::min(line.size(), at + 500);
      while (to < line.size() && (static_cast<unsigned char>(line[to]) & 0xC0) == 0x80) ++to;
      const std::string why = unclear("airlatch: " + line.substr(at, to - at) + "\n");
      if (!why.empty()) return why;
      at = to;
    }
    if (line.size() > 5000) return "a line of " + std::to_string(line.size()) + " bytes";
  }
  return "";
}

// JSON lines, or one JSON text.
std::string bad_json(const std::string& text, bool lines) {
  if (!lines) return nlohmann::json::accept(text) && is_utf8(text) ? "" : "no JSON";
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);)
    if (!nlohmann::json::accept(line)) return "no JSON: " + line.substr(0, 200);
  return steering(std::regex_replace(text, std::regex("\n"), " ").substr(0, 4000));
}

// What of a page could run, or end its element: all of it was written by the program.
std::string bad_html(const std::string& page) {
  if (!is_utf8(page)) return "not UTF-8";
  static const std::regex tag(
      R"re(<((script|img|/?title>.*<title)[ >]|svg (?!viewBox="0 0 |class="bar" |width="36" )))re");
  std::smatch found;
  if (std::regex_search(page, found, tag)) return "a tag: " + found.str();
  for (const char* const mark : {"\u202E", "\x1B", "\u200B", "\u2066", "\u009B"})
    if (page.find(mark) != std::string::npos) return "a character that steers";
  return "";
}

// Text is drawn as outlines: an SVG holds none of it, and no control character (XML 1.0, 2.2).
std::string bad_svg(const std::string& svg) {
  if (!svg.starts_with("<?xml") || svg.find("</svg>") == std::string::npos) return "no SVG";
  if (!is_utf8(svg)) return "not UTF-8";
  for (const char c : svg)
    if (static_cast<unsigned char>(c) < 0x20 && c != '\n' && c != '\r' && c != '\t')
      return "a control character";
  return "";
}

// As a name of a column: what ends a cell or line is left out, so that it stays one.
std::string as_cell(const std::string& text) {
  std::string out;
  for (const char c : text)
    if (std::string_view(",;\t\r\n\"[](){}#").find(c) == std::string_view::npos && c != '\0')
      out += c;
  return out.substr(0, 4000);
}

std::string as_file_name(const std::string& text) {
  std::string out;
  for (const char c : text)
    if (c != '/' && c != '\0') out += c;
  return out.substr(0, 100);
}

class Texts : public testing::Test {
 protected:
  // Counts a trial and looks at what it says.
  Trial tried(const std::vector<std::string>& arguments, const std::string& what,
              const std::string& input = "/dev/null") {
    const Trial trial = run_trial(arguments, input);
    std::string words;
    for (const std::string& word : arguments) words += word.substr(0, 60) + " ";
    tally.count(trial, what + ": " + words);
    EXPECT_EQ(unclear(trial.err + "airlatch: as if it were refused\n")
                  .starts_with("a line of another make"),
              false)
        << words << trial.err;
    EXPECT_EQ(steering(trial.err), "") << what << ": " << words << "\n" << trial.err;
    return trial;
  }
  void expect_plain(const std::vector<std::string>& arguments, const std::string& what) {
    EXPECT_EQ(steering(tried(arguments, what).out), "") << what << ": " << arguments[0];
  }
  std::string csv(const std::string& name) {
    std::string text =
        "time_s,motor_a,line_kpa," + as_cell(name) + "," + as_cell(name) + " [kPa]\n";
    for (int k = 0; k < 40; ++k)
      text += fmt::format("{:.2f},{},{},1,2\n", 0.05 * k, k > 10 && k < 30 ? 5 : 0, k);
    return folder.write("a.csv", text);
  }
  // A report of a capture in which each text stands, and what it wrote.
  void expect_sound_report(const std::string& text, const std::string& what) {
    const std::string quoted = quoted_text(text.substr(0, 900), false);
    const std::string plan = folder.write(
        "a.plan", "name: " + quoted + " step { id: " + quoted + " title: " + quoted + " prompt: " +
                      quoted + " expect: STALL_CUTOFF limit { measure: " + quoted + " max: 1 } }");
    const std::string rig = folder.write(
        "a.rig", "name: " + quoted + " channel { source: \"motor_a\" role: MOTOR_CURRENT }");
    std::string told;
    for (const char* field : {"garage", "customer", "technician", "odometer", "remark", "remark"})
      told += std::string(field) + ": " + quoted + " ";
    const std::string job =
        folder.write("a.job", told + "vehicle: " + quoted + " job_number: " + quoted +
                                  " capture { file: \"a.csv\" step: " + quoted +
                                  " closed_branch: " + quoted + " }");
    const std::string to = folder.at("report");
    std::filesystem::remove_all(to);
    expect_plain({"report", job, "--plan", plan, "--rig", rig, "--report", to}, what);
    if (!std::filesystem::exists(to + "/report.html")) return;  // refused, with one clear line
    EXPECT_EQ(bad_html(test::read_file(to + "/report.html")), "") << what;
    EXPECT_EQ(bad_json(test::read_file(to + "/report.json"), false), "") << what;
    EXPECT_TRUE(test::read_file(to + "/report.pdf").starts_with("%PDF-")) << what;
    expect_sound_ledger(to, what);
    expect_plain({"compare", to + "/report.json", to + "/report.pb", "--all"}, what);
  }
  void expect_sound_ledger(const std::string& report, const std::string& what) {
    const std::string ledger = folder.at("ledger"), svg = folder.at("trend.svg");
    std::filesystem::remove(ledger);
    std::filesystem::remove(svg);
    expect_plain({"ledger", "add", report + "/report.pb", "--ledger", ledger}, what);
    expect_plain({"ledger", "list", "--ledger", ledger}, what);
    expect_plain({"ledger", "trend", "run_current", "--svg", svg, "--ledger", ledger}, what);
    if (std::filesystem::exists(svg)) {
      EXPECT_EQ(bad_svg(test::read_file(svg)), "") << what;
    }
    const Trial show = tried({"ledger", "show", "1", "--ledger", ledger}, what);
    if (show.status == 0) {
      EXPECT_EQ(bad_json(show.out, false), "") << what;
    }
    expect_plain({"ledger", "list", "--vehicle", what, "--ledger", ledger}, what);
  }
  void expect_sound(const std::string& text, const std::string& what) {
    const std::string capture = csv(text);
    expect_plain({"replay", capture}, what);
    EXPECT_EQ(bad_json(tried({"replay", capture, "--events", "-"}, what).out, true), "") << what;
    expect_plain({"compare", capture, capture, "--all"}, what);
    const std::string named = folder.at(as_file_name(text) + ".csv");
    std::error_code ignored;
    std::filesystem::copy_file(capture, named, ignored);
    expect_plain({"replay", named}, what);
    expect_plain({"compare", named, named}, what);
    expect_sound_report(text, what);
    // Every word that a user may type wrongly.
    const std::string word = as_file_name(text);
    for (const char* const option : {"--rig", "--plan", "--rate", "--"})
      expect_plain({"replay", capture, option, word}, what);
    expect_plain({word}, what);
    expect_plain({"replay", "--" + word, capture}, what);
    expect_plain({"help", word}, what);
    expect_plain({"rehearse", word}, what);
    expect_plain({"capture", word}, what);
    expect_plain({"instruments", word}, what);
    expect_plain({"ledger", word}, what);
    const std::string lines = folder.write(
        "lines",
        nlohmann::json{{"channel", text}, {"time_s", 0}, {"value", 1}, {"unit", text}}.dump(
            -1, ' ', false, nlohmann::json::error_handler_t::ignore) +
            "\n" + R"({"channel":"motor_a","time_s":1,"value":0})" + "\n");
    EXPECT_EQ(bad_json(tried({"pipe"}, what, lines).out, true), "") << what;
  }
  test::Folder folder;
  Tally tally{"text"};
};

TEST_F(Texts, InEveryNameAndField) {
  const auto& all = hostile_texts();
  // In turn, each word of the command line and each field with each of them.
  for (std::size_t k = 0; k < all.size(); ++k)
    if (walked(k)) expect_sound(all[k], "text " + std::to_string(k));
  std::mt19937 random(1506);
  const int more = draws(1) - 1;
  for (int k = 0; k < more; ++k)
    expect_sound(drawn_text(random), "seed 1506, number " + std::to_string(k));
}

TEST_F(Texts, InTheNamesOfASession) {
  for (std::size_t k = 0; k < hostile_texts().size(); ++k) {
    const std::vector<float> values(100, 1);
    std::string name;
    for (const char c : hostile_texts()[k])
      if (c != '\n' && c != '\r' && c != '\0') name += c;
    const std::string file = folder.at("a.sr");
    std::filesystem::remove(file);
    write_sr(file, 100, {{"motor_a", &values}, {name, &values}});
    expect_plain({"replay", file}, "text " + std::to_string(k));
  }
}

}  // namespace
}  // namespace airlatch::hostile
