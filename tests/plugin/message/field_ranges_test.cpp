// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/message/field_ranges.hpp"

#include <gtest/gtest.h>

#include <limits>
#include <map>

#include "plugin/message/fields.hpp"

namespace airlatch {
namespace {

// The rows that the fields of a message and of those within it need.
class Needed {
 public:
  template <MessageType Message>
  void message() {
    const auto name = std::string(Fields<Message>::kName.substr(sizeof("airlatch.v1.") - 1));
    const Message one = {};
    Fields<Message>::each(
        one, [&](int, const char* field, const auto& member) { look(name + "." + field, member); });
  }
  std::map<std::string, bool> rows;  // false: may have one

 private:
  void look(const std::string& name, bool) { rows.emplace(name, false); }
  void look(const std::string& name, EnumType auto) { rows.emplace(name, false); }
  template <typename Number>
  requires std::is_arithmetic_v<Number>
  void look(const std::string& name, Number) { rows.emplace(name, true); }
  void look(const std::string& name, const std::string&) { rows.emplace(name, true); }
  template <MessageType Message>
  void look(const std::string&, const Message&) {
    message<Message>();
  }
  template <typename T>
  void look(const std::string& name, const std::optional<T>&) {
    look(name, T{});
  }
  template <typename T>
  void look(const std::string& name, const std::vector<T>&) {
    rows.emplace(name, true);
    if constexpr (MessageType<T>) message<T>();
  }
};

TEST(FieldRanges, EveryFieldOfWhatUsersWriteStatesItsRange) {
  Needed needed;
  needed.message<Rig>();
  needed.message<Plan>();
  needed.message<Job>();
  for (const FieldRange& row : field_ranges()) {
    const std::string name = std::string(row.message) + "." + std::string(row.field);
    EXPECT_EQ(needed.rows.erase(name), 1U) << name << " is no field, or has two rows";
    EXPECT_FALSE(row.mend.empty()) << name;
  }
  for (const auto& [name, must] : needed.rows) EXPECT_FALSE(must) << name << " has no row";
}

template <typename Message>
std::string fault(const Message& message) {
  try {
    check_fields(message);
  } catch (const FieldError& error) {
    std::string path;
    for (const auto& [field, index] : error.path())
      path += std::string(field) + " " + std::to_string(index) + " ";
    return path + error.what();
  }
  return "";
}

TEST(FieldRanges, NameTheFieldThatIsOutOfThem) {
  Rig rig;
  rig.channel.resize(3, {.source = "a", .role = Role::LINE_PRESSURE});
  EXPECT_EQ(fault(rig), "");
  rig.channel[2].u_rel = 2;
  EXPECT_EQ(fault(rig), "channel 2 u_rel 0 u_rel is 2, which is not within 0 to 1");
  rig.channel[1].source = std::string(1001, 'a');
  EXPECT_EQ(fault(rig), "channel 1 source 0 source has 1001 bytes, and 1000 are the most");
}

TEST(FieldRanges, AReportsNumbersAreFiniteAndItsValuesHaveNames) {
  Report report;
  report.captures.emplace_back().sha256 = std::string(100'000, 'a');
  EXPECT_EQ(fault(report), "");
  report.events.emplace_back().kind = static_cast<Kind>(99);
  EXPECT_EQ(fault(report), "events 0 kind 0 kind has no value 99");
  report.events[0].kind = Kind::GAP;
  report.events[0].measures.push_back(
      {"duration", std::numeric_limits<double>::infinity(), 0, "s"});
  EXPECT_EQ(fault(report), "events 0 measures 0 value 0 value is inf");
}

}  // namespace
}  // namespace airlatch
