// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/message/fields.hpp"

#include <google/protobuf/descriptor.h>
#include <gtest/gtest.h>

#include <set>

#include "airlatch/v1/event.pb.h"
#include "airlatch/v1/report.pb.h"
#include "airlatch/v1/setup.pb.h"

namespace airlatch {
namespace {

using google::protobuf::Descriptor;
using google::protobuf::EnumDescriptor;
using google::protobuf::FieldDescriptor;

// How many members a struct has: as many empty values as it can be made of.
template <typename M>
constexpr int members() {
  if constexpr (requires { M{{}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}}; })
    return 17;
  if constexpr (requires { M{{}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}}; })
    return 16;
  if constexpr (requires { M{{}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}}; })
    return 15;
  if constexpr (requires { M{{}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}}; }) return 14;
  if constexpr (requires { M{{}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}}; }) return 13;
  if constexpr (requires { M{{}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}}; }) return 12;
  if constexpr (requires { M{{}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}}; }) return 11;
  if constexpr (requires { M{{}, {}, {}, {}, {}, {}, {}, {}, {}, {}}; }) return 10;
  if constexpr (requires { M{{}, {}, {}, {}, {}, {}, {}, {}, {}}; }) return 9;
  if constexpr (requires { M{{}, {}, {}, {}, {}, {}, {}, {}}; }) return 8;
  if constexpr (requires { M{{}, {}, {}, {}, {}, {}, {}}; }) return 7;
  if constexpr (requires { M{{}, {}, {}, {}, {}, {}}; }) return 6;
  if constexpr (requires { M{{}, {}, {}, {}, {}}; }) return 5;
  if constexpr (requires { M{{}, {}, {}, {}}; }) return 4;
  if constexpr (requires { M{{}, {}, {}}; }) return 3;
  if constexpr (requires { M{{}, {}}; }) return 2;
  if constexpr (requires { M{{}}; }) return 1;
}

// The enumerator's name as the compiler has it; a number in brackets where there is none.
template <auto kValue>
constexpr std::string_view enumerator() {
  std::string_view name = __PRETTY_FUNCTION__;
  name.remove_prefix(name.find("kValue = ") + std::string_view("kValue = ").size());
  name = name.substr(0, name.find_first_of(";]"));
  return name.front() == '(' ? name : name.substr(name.rfind(':') + 1);
}
template <EnumType Enum, std::size_t... kIndex>
void compare_enumerators(std::index_sequence<kIndex...>) {
  const auto compare = [](std::size_t index, std::string_view name) {
    const std::string_view proto = EnumNames<Enum>::kAll[index];
    if (index == 0 && name == "UNSPECIFIED")  // proto's names have no scope, so it says of what
      EXPECT_TRUE(proto.ends_with("_UNSPECIFIED")) << proto;
    else
      EXPECT_EQ(proto, name);
  };
  (compare(kIndex, enumerator<static_cast<Enum>(kIndex)>()), ...);
  EXPECT_EQ(enumerator<static_cast<Enum>(sizeof...(kIndex))>().front(), '(');
}

template <typename T>
struct Shape {
  using Value = T;
  static constexpr bool kRepeated = false, kOptional = false;
};
template <typename T>
struct Shape<std::optional<T>> {
  using Value = T;
  static constexpr bool kRepeated = false, kOptional = true;
};
template <typename T>
struct Shape<std::vector<T>> {
  using Value = T;
  static constexpr bool kRepeated = true, kOptional = false;
};

class Rows {
 public:
  template <MessageType Message>
  void compare() {
    const std::string full_name(Fields<Message>::kName);
    const Descriptor* type =
        google::protobuf::DescriptorPool::generated_pool()->FindMessageTypeByName(full_name);
    ASSERT_TRUE(type) << full_name;
    if (!seen_messages.insert(type).second) return;
    int rows = 0, last = 0;
    Message message = {};
    Fields<Message>::each(message, [&](int number, const char* name, auto& member) {
      SCOPED_TRACE(full_name + "." + name);
      EXPECT_GT(number, last);
      last = number;
      ++rows;
      const FieldDescriptor* field = type->FindFieldByNumber(number);
      ASSERT_TRUE(field);
      EXPECT_EQ(field->name(), name);
      compare_type<std::remove_reference_t<decltype(member)>>(*field);
    });
    EXPECT_EQ(rows, type->field_count()) << full_name;
    EXPECT_EQ(rows, members<Message>()) << full_name;
  }
  std::set<const Descriptor*> seen_messages = {};
  std::set<const EnumDescriptor*> seen_enums = {};

 private:
  template <typename Member>
  void compare_type(const FieldDescriptor& field) {
    using T = typename Shape<Member>::Value;
    EXPECT_EQ(field.is_repeated(), Shape<Member>::kRepeated);
    if constexpr (MessageType<T>) {
      ASSERT_EQ(field.type(), FieldDescriptor::TYPE_MESSAGE);
      EXPECT_EQ(field.message_type()->full_name(), Fields<T>::kName);
      compare<T>();
    } else {
      EXPECT_EQ(field.has_presence(), Shape<Member>::kOptional);
      if constexpr (EnumType<T>) {
        ASSERT_EQ(field.type(), FieldDescriptor::TYPE_ENUM);
        compare_enum<T>(*field.enum_type());
      } else {
        EXPECT_EQ(field.type(), type_of(T{}));
      }
    }
  }
  template <EnumType Enum>
  void compare_enum(const EnumDescriptor& type) {
    seen_enums.insert(&type);
    const auto& names = EnumNames<Enum>::kAll;
    ASSERT_EQ(type.value_count(), static_cast<int>(names.size())) << type.full_name();
    compare_enumerators<Enum>(std::make_index_sequence<EnumNames<Enum>::kAll.size()>());
    for (int k = 0; k < type.value_count(); ++k) {
      EXPECT_EQ(type.value(k)->number(), k) << type.full_name();
      EXPECT_EQ(type.value(k)->name(), names[static_cast<std::size_t>(k)]) << type.full_name();
    }
  }
  static FieldDescriptor::Type type_of(double) { return FieldDescriptor::TYPE_DOUBLE; }
  static FieldDescriptor::Type type_of(bool) { return FieldDescriptor::TYPE_BOOL; }
  static FieldDescriptor::Type type_of(std::uint32_t) { return FieldDescriptor::TYPE_UINT32; }
  static FieldDescriptor::Type type_of(std::int64_t) { return FieldDescriptor::TYPE_INT64; }
  static FieldDescriptor::Type type_of(const std::string&) { return FieldDescriptor::TYPE_STRING; }
};

void all_messages(const Descriptor& type, std::set<const Descriptor*>& messages,
                  std::set<const EnumDescriptor*>& enums) {
  messages.insert(&type);
  for (int k = 0; k < type.enum_type_count(); ++k) enums.insert(type.enum_type(k));
  for (int k = 0; k < type.nested_type_count(); ++k)
    all_messages(*type.nested_type(k), messages, enums);
}

TEST(Fields, EveryRowAsInProto) {
  Rows rows;
  rows.compare<Event>();
  rows.compare<Rig>();
  rows.compare<Plan>();
  rows.compare<Job>();
  rows.compare<Report>();
  std::set<const Descriptor*> messages;
  std::set<const EnumDescriptor*> enums;
  for (const auto* type :
       {v1::Event::descriptor(), v1::Rig::descriptor(), v1::Report::descriptor()}) {
    const auto& file = *type->file();
    for (int k = 0; k < file.message_type_count(); ++k)
      all_messages(*file.message_type(k), messages, enums);
    for (int k = 0; k < file.enum_type_count(); ++k) enums.insert(file.enum_type(k));
  }
  EXPECT_EQ(rows.seen_messages, messages);
  EXPECT_EQ(rows.seen_enums, enums);
}

}  // namespace
}  // namespace airlatch
