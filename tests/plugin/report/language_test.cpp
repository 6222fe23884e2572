// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/language.hpp"

#include <gtest/gtest.h>
#include <stdlib.h>

#include <regex>
#include <set>

#include "plugin/report/catalogue.hpp"
#include "plugin/report/document_writers.hpp"
#include "plugin/report/finding_text.hpp"
#include "plugin/report/measure_words.hpp"

namespace airlatch {
namespace {

// As the environment asks, whatever this one asks for.
Language with(const std::vector<std::pair<const char*, const char*>>& variables) {
  for (const char* name : {"LANGUAGE", "LC_ALL", "LC_MESSAGES", "LANG"}) ::unsetenv(name);
  for (const auto& [name, value] : variables) ::setenv(name, value, 1);
  return Language::of_environment();
}

TEST(Language, IsThatOfTheEnvironment) {
  EXPECT_EQ(with({}).code(), "en");
  EXPECT_EQ(with({{"LANG", "de_DE.UTF-8"}}).code(), "de");
  EXPECT_EQ(with({{"LANG", "de_DE.UTF-8"}, {"LC_MESSAGES", "fr_FR"}}).code(), "fr");
  EXPECT_EQ(with({{"LANG", "de_DE.UTF-8"}, {"LC_ALL", "C"}}).code(), "en");
  EXPECT_EQ(with({{"LANG", "fi_FI.UTF-8"}}).code(), "en");
  EXPECT_EQ(with({{"LANG", "fi_FI.UTF-8"}, {"LANGUAGE", "fi:nl:de"}}).code(), "nl");
  EXPECT_EQ(with({{"LANG", "C"}, {"LANGUAGE", "nl"}}).code(), "en");
}

TEST(Paper, IsThatOfTheCountry) {
  for (const auto& [locale, paper] :
       {std::pair("en_US.UTF-8", Paper::kLetter), std::pair("fr_CA", Paper::kLetter),
        std::pair("en_GB", Paper::kA4), std::pair("C", Paper::kA4), std::pair("de", Paper::kA4)}) {
    ::setenv("LC_ALL", locale, 1);
    EXPECT_EQ(paper_of_environment(), paper) << locale;
  }
  ::unsetenv("LC_ALL");
}

TEST(Language, SaysNumbersAndDatesItsOwnWay) {
  const Language english, german = Language::of("de"), french = Language::of("fr");
  EXPECT_EQ(english.number(1234.56, 1), "1234.6");
  EXPECT_EQ(german.number(-1.25, 1), "\u22121,2");
  EXPECT_EQ(german.number(-0.001, 1), "0,0");
  EXPECT_EQ(english.number(1772, -2), "1800");
  EXPECT_EQ(english.date("2026-03-14"), "14 March 2026");
  EXPECT_EQ(german.date("2026-03-14"), "14. März 2026");
  EXPECT_EQ(french.date("2026-03-01"), "1er mars 2026");
  EXPECT_EQ(Language::of("es").date("2026-12-02"), "2 de diciembre de 2026");
  EXPECT_EQ(Language::of("nl").date("2026-05-02"), "2 mei 2026");
  EXPECT_EQ(english.date("soon"), "soon");
}

TEST(Language, FillsWhatStandsInBraces) {
  EXPECT_EQ(Language().say("{a} to {b}, {c}", {{"a", "1"}, {"b", "{a}"}}), "1 to {a}, ");
  EXPECT_EQ(Language().say("an open { is one"), "an open { is one");
  EXPECT_EQ(Language::of("de").say("at most {limit}", {{"limit", "4 s"}}), "höchstens 4 s");
  EXPECT_EQ(Language::of("de").say("what nobody translated"), "what nobody translated");
}

std::set<std::string> braces(std::string_view text) {
  static const std::regex name(R"(\{\w+\})");
  const std::string all(text);
  return {std::sregex_token_iterator(all.begin(), all.end(), name), {}};
}

// That each catalogue has each message is the test report_catalogues; here, that what is filled in
// the English is filled in the other.
TEST(Catalogues, FillTheSame) {
  ASSERT_EQ(catalogues().size(), 4U);
  std::vector<const char*> messages = {"All {all} steps of the test were passed.",
                                       "Steps of the test that were passed: {passed} of {all}.",
                                       "{state}: {pressure} lost in {time}",
                                       "page {page} of {pages}"};
  for (const MeasureRow& row : measure_rows()) messages.push_back(row.customer);
  for (const Catalogue& catalogue : catalogues())
    for (const char* message : messages) {
      const std::string_view found = translation(catalogue, message);
      EXPECT_FALSE(found.empty()) << catalogue.language << ": " << message;
      EXPECT_EQ(braces(found), braces(message)) << catalogue.language << ": " << message;
    }
}

TEST(Findings, UntestedPartsAreNamedOnce) {
  EXPECT_EQ(untested_parts({"MOTOR_OPEN", "SOURCE_DEAD", "MOTOR_SEIZED"}, Language()),
            "the motor, the source");
  EXPECT_EQ(untested_parts({"SOUND", "OF_TOMORROW"}, Language()), "");
  EXPECT_FALSE(std::string(text_of_finding("OF_TOMORROW").found).empty());
}

TEST(Figures, HaveNoDigitThatIsNotSure) {
  const Language english;
  const auto text = [&](double value, double u, bool bound = false, const char* name = "run_time",
                        const char* unit = "s") {
    return customer_figure({.name = name, .value = value, .u = u, .unit = unit}, bound, english)
        .text;
  };
  EXPECT_EQ(text(1.771823, 0.00012), "1.77\u00a0s");
  EXPECT_EQ(text(48.154, 0.14), "48.2\u00a0s");
  EXPECT_EQ(text(48.154, 1.4), "48\u00a0s");
  EXPECT_EQ(text(4815.4, 140), "4800\u00a0s");
  EXPECT_EQ(text(0.001, 0.041, true), "less than 0.09\u00a0s");
  EXPECT_EQ(text(0.0149, 0.0001, true, "leak_share", "1"), "1.49\u00a0%");
  EXPECT_EQ(text(-48.2, 0.1, false, "end_pressure", "kPa"), "48.2\u00a0kPa");
}

}  // namespace
}  // namespace airlatch
