// SPDX-License-Identifier: GPL-3.0-or-later
// random_message.hpp: any message with any content, and the same in libprotobuf's own class.
#pragma once
#include <google/protobuf/message.h>

#include <bit>
#include <cstdint>
#include <limits>
#include <random>
#include <string>

#include "airlatch/v1/event.pb.h"
#include "airlatch/v1/report.pb.h"
#include "airlatch/v1/setup.pb.h"
#include "plugin/message/fields.hpp"

namespace airlatch::test {

template <typename Message>
struct V1Of;
template <>
struct V1Of<Event> {
  using Type = v1::Event;
};
template <>
struct V1Of<Rig> {
  using Type = v1::Rig;
};
template <>
struct V1Of<Plan> {
  using Type = v1::Plan;
};
template <>
struct V1Of<Job> {
  using Type = v1::Job;
};
template <>
struct V1Of<Report> {
  using Type = v1::Report;
};

class RandomMessage {
 public:
  explicit RandomMessage(std::uint64_t seed) : random_(seed) {}

  template <MessageType Message>
  Message message() {
    Message made = {};
    fill(made);
    return made;
  }
  std::size_t below(std::size_t count) { return random_() % count; }
  bool one_in(std::size_t count) { return below(count) == 0; }

 private:
  template <MessageType Message>
  void fill(Message& message) {
    Fields<Message>::each(message, [&](int, const char*, auto& member) {
      if (!one_in(3)) fill(member);
    });
  }
  void fill(double& value) {
    using Limits = std::numeric_limits<double>;
    constexpr double kSpecial[] = {0,
                                   -0.0,
                                   1,
                                   -1,
                                   0.1,
                                   1e-5,
                                   123456789,
                                   1e15,
                                   1e16,
                                   1e22,
                                   1e300,
                                   Limits::infinity(),
                                   -Limits::infinity(),
                                   Limits::quiet_NaN(),
                                   Limits::denorm_min(),
                                   Limits::max(),
                                   Limits::min(),
                                   18446744073709551616.0};
    if (one_in(3)) {
      value = std::bit_cast<double>(random_());
      if (value != value) value = Limits::quiet_NaN();  // text has one NaN
    } else {
      value = one_in(2) ? kSpecial[below(std::size(kSpecial))]
                        : static_cast<double>(below(200000)) / 1000 - 100;
    }
  }
  void fill(bool& value) { value = one_in(2); }
  void fill(std::uint32_t& value) { value = static_cast<std::uint32_t>(random_() >> below(64)); }
  void fill(std::int64_t& value) { value = static_cast<std::int64_t>(random_()) >> below(64); }
  void fill(EnumType auto& value) {
    using Enum = std::remove_reference_t<decltype(value)>;
    value = static_cast<Enum>(one_in(10) ? static_cast<int>(random_())
                                         : static_cast<int>(below(EnumNames<Enum>::kAll.size())));
  }
  void fill(std::string& value) {
    constexpr std::string_view kPieces[] = {"a",          "Z", "7",  " ", "\n",   "\t",
                                            "\"",         "'", "\\", "Ω", "ü",    "€",
                                            "\U0001F600", "#", "{",  "?", "\x01", "\x7f"};
    value.clear();
    for (std::size_t k = below(12); k > 0; --k)
      if (one_in(30))
        value += '\0';
      else
        value += kPieces[below(std::size(kPieces))];
    if (one_in(40)) value.append(200, 'x');  // its length takes two bytes
  }
  template <typename T>
  void fill(std::optional<T>& value) {
    value = T{};
    fill(*value);
  }
  template <typename T>
  void fill(std::vector<T>& values) {
    for (std::size_t k = below(4); k > 0; --k) fill(values.emplace_back());
  }

  std::mt19937_64 random_;
};

// Field by field through libprotobuf's reflection, so that bytes and text have an oracle.
class Mirror {
 public:
  template <MessageType Message>
  static void copy(const Message& from, google::protobuf::Message& to) {
    Fields<Message>::each(from, [&](int number, const char*, const auto& value) {
      put(value, to, *to.GetReflection(), to.GetDescriptor()->FindFieldByNumber(number));
    });
  }

 private:
  using Reflection = google::protobuf::Reflection;
  using Field = google::protobuf::FieldDescriptor;
  template <typename T>
  static void put(const std::vector<T>& values, google::protobuf::Message& to,
                  const Reflection& reflection, const Field* field) {
    for (const T& value : values) add(value, to, reflection, field);
  }
  template <typename T>
  static void put(const std::optional<T>& value, google::protobuf::Message& to,
                  const Reflection& reflection, const Field* field) {
    if (value) put(*value, to, reflection, field);
  }
  template <typename T>
  static void put(const T& value, google::protobuf::Message& to, const Reflection& reflection,
                  const Field* field) {
    if constexpr (MessageType<T>)
      copy(value, *reflection.MutableMessage(&to, field));
    else if constexpr (EnumType<T>)
      reflection.SetEnumValue(&to, field, static_cast<int>(value));
    else if constexpr (std::is_same_v<T, std::string>)
      reflection.SetString(&to, field, value);
    else if constexpr (std::is_same_v<T, double>)
      reflection.SetDouble(&to, field, value);
    else if constexpr (std::is_same_v<T, bool>)
      reflection.SetBool(&to, field, value);
    else if constexpr (std::is_same_v<T, std::uint32_t>)
      reflection.SetUInt32(&to, field, value);
    else
      reflection.SetInt64(&to, field, value);
  }
  template <typename T>
  static void add(const T& value, google::protobuf::Message& to, const Reflection& reflection,
                  const Field* field) {
    if constexpr (MessageType<T>)
      copy(value, *reflection.AddMessage(&to, field));
    else
      reflection.AddString(&to, field, value);
  }
};

template <typename Message>
typename V1Of<Message>::Type mirror(const Message& message) {
  typename V1Of<Message>::Type made;
  Mirror::copy(message, made);
  return made;
}

// libprotobuf knows of every message within a message whether it is there; where a struct has it as
// a plain member, it always is.
inline void complete(google::protobuf::Message&) {}
inline void complete(v1::Report& report) {
  report.mutable_rig();
  report.mutable_plan();
  for (auto& step : *report.mutable_steps())
    for (auto& limit : *step.mutable_limits()) limit.mutable_limit();
  for (auto& budget : *report.mutable_leak_budgets())
    for (auto& branch : *budget.mutable_branches()) branch.mutable_loss();
}

}  // namespace airlatch::test
