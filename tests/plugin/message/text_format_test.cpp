// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/message/text_format.hpp"

#include <google/protobuf/io/tokenizer.h>
#include <google/protobuf/stubs/logging.h>
#include <google/protobuf/text_format.h>
#include <gtest/gtest.h>

#include <cmath>

#include "plugin/message/wire.hpp"
#include "tests/plugin/message/random_message.hpp"

namespace airlatch {
namespace {
using namespace test;
using google::protobuf::TextFormat;

class FirstError final : public google::protobuf::io::ErrorCollector {
 public:
  void AddError(int line, int column, const std::string& message) override {
    if (!what.empty()) return;
    where = {line + 1, column + 1};
    what = message;
  }
  Place where = {};
  std::string what = {};
};

// What libprotobuf makes of the text: its bytes, or where and why it refuses.
struct Oracle {
  std::string bytes = {};
  Place where = {};
  std::string what = {};
};
template <typename V1>
Oracle oracle(const std::string& text) {
  FirstError error;
  V1 message;
  TextFormat::Parser parser;
  parser.RecordErrorsTo(&error);
  if (!parser.ParseFromString(text, &message)) return {"", error.where, error.what};
  complete(message);
  return {message.SerializeAsString(), {}, ""};
}

// The differences that the header names. A string that is called not UTF-8 must make bytes that
// libprotobuf itself cannot read, where it took the text.
template <typename V1>
bool is_on_purpose(const std::string& what, const Oracle& said) {
  if (what.find("not UTF-8") != std::string::npos)
    return !said.what.empty() || !V1().ParseFromString(said.bytes);
  if (what.find("is given twice") != std::string::npos) return true;
  if (what.starts_with("\\U goes up to")) return true;
  return what.starts_with("a field's name is expected here, not \"[\"");
}

template <typename Message>
class TextFormatOf : public testing::Test {
 protected:
  using V1 = typename V1Of<Message>::Type;

  void compare(const std::string& text) {
    const Oracle said = oracle<V1>(text);
    try {
      const auto message = parse_text<Message>(text);
      ASSERT_EQ(said.what, "") << text;
      ASSERT_EQ(to_wire(message), said.bytes) << text;
      ++taken;
    } catch (const TextError& error) {
      ++refused;
      if (is_on_purpose<V1>(error.what(), said)) {
        ++on_purpose;
        return;
      }
      ASSERT_NE(said.what, "") << error.what() << "\n" << text;
      ASSERT_EQ(error.where().line, said.where.line) << error.what() << "\n"
                                                     << said.what << "\n"
                                                     << text;
      ASSERT_EQ(error.where().column, said.where.column) << error.what() << "\n"
                                                         << said.what << "\n"
                                                         << text;
    }
  }
  int taken = 0, refused = 0, on_purpose = 0;
  google::protobuf::LogSilencer silence;  // libprotobuf complains of strings that are not UTF-8
};
using Messages = testing::Types<Event, Rig, Plan, Job, Report>;
TYPED_TEST_SUITE(TextFormatOf, Messages);

// One of the ways libprotobuf can print a message, and the ways a person writes one.
std::string printed(const google::protobuf::Message& message, RandomMessage& random) {
  TextFormat::Printer printer;
  printer.SetSingleLineMode(random.one_in(2));
  printer.SetUseUtf8StringEscaping(random.one_in(2));
  printer.SetUseShortRepeatedPrimitives(random.one_in(2));
  printer.SetPrintMessageFieldsInIndexOrder(random.one_in(2));
  std::string text, out;
  printer.PrintToString(message, &text);
  const bool angles = random.one_in(3), colons = random.one_in(3), tabs = random.one_in(3);
  bool quoted = false, escaped = false;
  for (std::size_t k = 0; k < text.size(); ++k) {
    const char c = text[k];
    if (c == '"' && !escaped) quoted = !quoted;
    escaped = c == '\\' && !escaped;
    if (!quoted && angles && (c == '{' || c == '}'))
      out += c == '{' ? '<' : '>';
    else if (!quoted && tabs && c == ' ')
      out += random.one_in(2) ? "\t" : "\r \v\f";
    else
      out += c;
    if (!quoted && colons && k + 2 < text.size() && text[k + 1] == ' ' && text[k + 2] == '{')
      out += ':';
    if (!quoted && c == '\n' && random.one_in(4)) out += "# a comment: { \" [\n";
    if (!quoted && c == '"' && random.one_in(4)) out += " 'more' \"\" ";
    if (!quoted && c == '\n' && random.one_in(6) && out.size() > 1 && out[out.size() - 2] == '}')
      out += "; ";
  }
  return out;
}

TYPED_TEST(TextFormatOf, PrintsAsLibprotobuf) {
  RandomMessage random(6);
  for (int k = 0; k < 600; ++k) {
    const auto message = random.template message<TypeParam>();
    std::string expected;
    TextFormat::PrintToString(mirror(message), &expected);
    const std::string text = print_text(message);
    ASSERT_EQ(text, expected);
    ASSERT_EQ(to_wire(parse_text<TypeParam>(text)), to_wire(message)) << text;
  }
}

TYPED_TEST(TextFormatOf, ReadsWhatLibprotobufPrints) {
  RandomMessage random(7);
  for (int k = 0; k < 600 && !this->HasFatalFailure(); ++k)
    this->compare(printed(mirror(random.template message<TypeParam>()), random));
  EXPECT_GT(this->taken, 570);
}

// Words, numbers, signs and pieces of them, where they belong and where they do not.
std::string piece(RandomMessage& random) {
  static const std::string kPieces[] = {"{",
                                        "}",
                                        "<",
                                        ">",
                                        "[",
                                        "]",
                                        ":",
                                        ",",
                                        ";",
                                        "-",
                                        "+",
                                        ".",
                                        "#",
                                        "\"",
                                        "'",
                                        "\\",
                                        "/",
                                        "(",
                                        "=",
                                        "\n",
                                        "\t",
                                        " ",
                                        "\x01",
                                        "\x7f",
                                        "\xff",
                                        "Ω",
                                        std::string(1, '\0'),
                                        "0",
                                        "1",
                                        "7",
                                        "10",
                                        "00",
                                        "017",
                                        "08",
                                        "0x1F",
                                        "0X",
                                        "0xg",
                                        "1e5",
                                        "1e",
                                        "1e+",
                                        "1E-3f",
                                        "1.5.2",
                                        ".5",
                                        "5.",
                                        "5.f",
                                        "1f",
                                        "0f",
                                        "0.5F",
                                        "1a",
                                        "4294967295",
                                        "4294967296",
                                        "2147483648",
                                        "9223372036854775807",
                                        "9223372036854775808",
                                        "18446744073709551615",
                                        "18446744073709551616",
                                        "1e400",
                                        "1e-400",
                                        "-0",
                                        "-0.0",
                                        "--1",
                                        "- 1",
                                        "-\n2",
                                        "inf",
                                        "-inf",
                                        "Infinity",
                                        "infinityf",
                                        "inff",
                                        "NaN",
                                        "-nan",
                                        "nanf",
                                        "true",
                                        "True",
                                        "t",
                                        "TRUE",
                                        "false",
                                        "False",
                                        "f",
                                        "UNKNOWN",
                                        "PRESSURE",
                                        "pressure",
                                        "A",
                                        "GAP",
                                        "BEFORE",
                                        "99",
                                        "-5",
                                        "\"x\"",
                                        "'y'",
                                        "\"\\n\\t\\x41\\101\\u00e9\\U0001f600\"",
                                        "'\\?\\'\\\"\\a'",
                                        "\"\\ud83d\\ude00\"",
                                        "\"\\ud83d\"",
                                        "\"\\xff\"",
                                        "\"\\q\"",
                                        "\"\\u12\"",
                                        "\"\\U00110000\"",
                                        "\"\\U00200000\"",
                                        "\"\\400\"",
                                        "\"\\8\"",
                                        "\"\\x\"",
                                        "\"\\X4\"",
                                        "name",
                                        "name:",
                                        "channel",
                                        "channel {",
                                        "channel [",
                                        "channel: [{",
                                        "source: \"a\"",
                                        "role: LINE_PRESSURE",
                                        "role: 6",
                                        "scale: ",
                                        "offset: ",
                                        "invert: ",
                                        "step { limit { min: 1 } }",
                                        "limit",
                                        "measures <",
                                        "missing: {}",
                                        "note: ",
                                        "samples: ",
                                        "captures { channels { samples: -3 } }",
                                        "cautions: [\"a\", \"b\"]",
                                        "cautions: []",
                                        "cautions",
                                        "runs { start {} stop: {} }",
                                        "job { date: \"\" }",
                                        "kind: ",
                                        "time_s: ",
                                        "commutator_segments: ",
                                        "ripples_per_turn: ",
                                        "rig {}",
                                        "[a.b]: 1",
                                        "[type.googleapis.com/a.b] {}",
                                        "unknown: 1",
                                        "Name",
                                        "file: \"x\""};
  return kPieces[random.below(std::size(kPieces))];
}

std::string changed(std::string text, RandomMessage& random) {
  for (std::size_t count = 1 + random.below(3); count > 0; --count) {
    const std::size_t at = random.below(text.size() + 1);
    // Where a value may stand more often than anywhere.
    const std::size_t space = text.find(random.one_in(2) ? ' ' : '\n', at);
    switch (random.below(7)) {
      case 0:
        text.erase(at, 1 + random.below(3));
        break;
      case 1:
        text.resize(at);
        break;
      case 2:
        text.insert(at, piece(random));
        break;
      case 3:
        if (space != std::string::npos) text.insert(space, " " + piece(random));
        break;
      case 4:
        if (space != std::string::npos) {
          const std::size_t end = text.find_first_of(" \n", space + 1);
          text.replace(space + 1, end == std::string::npos ? end : end - space - 1, piece(random));
        }
        break;
      case 5:
        text += "\n" + piece(random) + " " + piece(random);
        break;
      default:
        if (at < text.size()) text[at] = static_cast<char>(random.below(256));
    }
  }
  return text;
}

TYPED_TEST(TextFormatOf, ReadsAndRefusesWhatLibprotobufDoes) {
  RandomMessage random(8);
  for (int k = 0; k < 6000 && !this->HasFatalFailure(); ++k) {
    const bool small = random.one_in(2);
    const auto message = small ? TypeParam{} : random.template message<TypeParam>();
    this->compare(changed(printed(mirror(message), random), random));
  }
  EXPECT_GT(this->taken, 600);
  EXPECT_GT(this->refused, 2000);
  EXPECT_LT(this->on_purpose, this->refused / 4);
}

// One value after the other in a field of each type.
TEST(TextFormat, Values) {
  google::protobuf::LogSilencer silence;
  RandomMessage random(9);
  for (int k = 0; k < 10000; ++k) {
    static const char* const kFields[] = {"name: ",
                                          "line_volume_ml: ",
                                          "commutator_segments: ",
                                          "contact_a_direction: ",
                                          "channel { invert: ",
                                          "channel { scale: ",
                                          "channel { source: ",
                                          "channel "};
    const std::string field = kFields[random.below(std::size(kFields))];
    std::string text = field + piece(random);
    if (random.one_in(4)) text += piece(random);
    if (field.find('{') != std::string::npos) text += " }";
    const Oracle said = oracle<v1::Rig>(text);
    try {
      const Rig rig = parse_text<Rig>(text);
      ASSERT_EQ(said.what, "") << text;
      ASSERT_EQ(to_wire(rig), said.bytes) << text;
    } catch (const TextError& error) {
      if (is_on_purpose<v1::Rig>(error.what(), said)) continue;
      ASSERT_EQ(error.where(), said.where) << text << "\n" << error.what() << "\n" << said.what;
    }
  }
}

// The ends of what a number or an escape may be, each in a report that holds one of every type.
TEST(TextFormat, Ends) {
  google::protobuf::LogSilencer silence;
  const auto expect = [](const std::string& text) {
    const Oracle said = oracle<v1::Report>(text);
    try {
      const auto report = parse_text<Report>(text);
      EXPECT_EQ(said.what, "") << text;
      EXPECT_EQ(to_wire(report), said.bytes) << text;
    } catch (const TextError& error) {
      EXPECT_TRUE(is_on_purpose<v1::Report>(error.what(), said) || error.where() == said.where)
          << text;
    }
  };
  for (const char* number : {"0",
                             "-0",
                             "1",
                             "-1",
                             "2147483647",
                             "2147483648",
                             "-2147483647",
                             "-2147483648",
                             "-2147483649",
                             "4294967295",
                             "4294967296",
                             "-4294967296",
                             "9223372036854775807",
                             "9223372036854775808",
                             "-9223372036854775807",
                             "-9223372036854775808",
                             "-9223372036854775809",
                             "0x7fffffffffffffff",
                             "-0x8000000000000000",
                             "18446744073709551615",
                             "18446744073709551616",
                             "-18446744073709551616"})
    for (const char* field :
         {"captures { channels { samples: ", "captures { channels { rate_hz: ",
          "captures { channels { role: ", "rig { channel { invert: ", "job { capture { phase: "})
      expect(field + std::string(number) + " } }");
  for (const char* field : {"commutator_segments: ", "ripples_per_turn: "})
    for (const char* number : {"4294967295", "4294967296", "037777777777", "0xffffffff", "-1"})
      expect("rig { " + std::string(field) + number + " }");
  for (const char* escapes : {"\\ud7ff",
                              "\\ud7ff\\udc00",
                              "\\ud800\\udc00",
                              "\\udb00\\udc00",
                              "\\udbff\\udfff",
                              "\\udc00",
                              "\\ud800\\ue000",
                              "\\ud800\\udbff",
                              "\\ud83d\\u12",
                              "\\U0000d83d\\ude00",
                              "\\ue000",
                              "\\uffff",
                              "\\U0010ffff",
                              "\\U00110000",
                              "\\u007f\\u0080",
                              "\\u07ff\\u0800",
                              "\\0",
                              "\\1234",
                              "\\x1234",
                              "\\377"})
    expect("software_version: \"" + std::string(escapes) + "\"");
}

struct Refused {
  Place where = {};
  std::string what = {}, mend = {};
};
Refused refused(const std::string& text) {
  try {
    (void)parse_text<Rig>(text);
  } catch (const TextError& error) {
    return {error.where(), error.what(), error.mend()};
  }
  return {};
}

TEST(TextFormat, ErrorsSayWhatIsKnown) {
  const Refused field = refused("name: \"x\"\nchanel { }");
  EXPECT_EQ(field.what, "Rig has no field \"chanel\"");
  EXPECT_EQ(field.mend,
            "the fields are name, channel, contact_a_direction, line_volume_ml, line_volume_u_ml, "
            "commutator_segments, ripples_per_turn, nominal_voltage_v, "
            "ambient_kpa, ambient_u_kpa, text, swept_volume_ml");
  const Refused value = refused("contact_a_direction: UP");
  EXPECT_EQ(value.what, "\"UP\" is not a value of the field \"contact_a_direction\"");
  EXPECT_EQ(value.mend, "the values are PRESSURE, VACUUM");
  EXPECT_EQ(refused("channel { source: \"a\" ").what,
            "a field's name is expected here, not the end of the text");
  EXPECT_EQ(refused("commutator_segments: -1").what, "a whole number is expected here, not \"-\"");
  EXPECT_EQ(refused("ripples_per_turn: 4294967296").mend, "4294967295 is the largest");
}

TEST(TextFormat, OnPurposeOtherwise) {
  EXPECT_EQ(refused("line_volume_ml: 0\nline_volume_ml: 5").what,
            "the field \"line_volume_ml\" is given twice");
  EXPECT_EQ(refused("name: \"Gr\xfcn\"").mend, "save the file as UTF-8");
  EXPECT_EQ(refused("name: '\\U00110000'").what, "\\U goes up to \\U0010ffff");
  EXPECT_EQ(refused("name: \"x\" [a.b]: 1").where, (Place{1, 11}));
}

TEST(TextFormat, PlacesOfFields) {
  Places places;
  const Rig rig = parse_text<Rig>(
      "name: 'x'\nchannel { source: 'a' }\n\tchannel: [{},\n { scale: 2 }]", &places);
  ASSERT_EQ(rig.channel.size(), 3U);
  EXPECT_EQ(places.of("name")->at, (Place{1, 1}));
  EXPECT_EQ(places.of("channel")->of("source")->at, (Place{2, 11}));
  EXPECT_EQ(places.of("channel", 1)->at, (Place{3, 19}));
  EXPECT_EQ(places.of("channel", 2)->of("scale")->at, (Place{4, 4}));
  EXPECT_EQ(places.of("channel", 3), nullptr);
  EXPECT_EQ(places.of("channel", 1)->of("scale"), nullptr);
}

}  // namespace
}  // namespace airlatch
