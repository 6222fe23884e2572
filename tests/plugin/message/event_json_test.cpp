// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/message/event_json.hpp"

#include <google/protobuf/util/json_util.h>
#include <gtest/gtest.h>

#include <cmath>

#include "plugin/message/wire.hpp"
#include "tests/plugin/message/random_message.hpp"

namespace airlatch {
namespace {
using namespace test;

TEST(EventJson, TheContractsLine) {
  Event event;
  event.kind = Kind::MOTOR_START;
  event.time_s = 2.5;
  event.time_u_s = 0.0005;
  event.direction = Direction::PRESSURE;
  event.contact = Contact::A;
  event.measures.push_back({"inrush_peak", 8.5, 0.25, "A"});
  event.missing.push_back({"supply_sag", MissingCode::NO_CHANNEL, "no source voltage"});
  EXPECT_EQ(
      event_json(event),
      R"({"kind":"MOTOR_START","time_s":2.5,"time_u_s":0.0005,"direction":"PRESSURE",)"
      R"("contact":"A","measures":[{"name":"inrush_peak","value":8.5,"u":0.25,"unit":"A"}],)"
      R"("missing":[{"measure":"supply_sag","code":"NO_CHANNEL","text":"no source voltage"}],)"
      R"("note":""})");
}

// The line is put together by hand: no field of the message may be missing from it.
TEST(EventJson, HasEveryField) {
  Event event;
  event.measures.emplace_back();
  event.missing.emplace_back();
  const std::string line = event_json(event);
  const auto expect = [&](int, const char* name, const auto&) {
    EXPECT_NE(line.find('"' + std::string(name) + "\":"), std::string::npos) << name;
  };
  Fields<Event>::each(event, expect);
  Fields<Measure>::each(event.measures[0], expect);
  Fields<Missing>::each(event.missing[0], expect);
}

// JSON has no NaN, infinity or unknown name.
void keep_to_json(Event& event) {
  const auto tame = [](double& value) {
    if (!std::isfinite(value)) value = 1.0 / 3;
  };
  const auto known = [](auto& value) {
    using Enum = std::remove_reference_t<decltype(value)>;
    if (static_cast<unsigned>(value) >= EnumNames<Enum>::kAll.size()) value = Enum{};
  };
  tame(event.time_s);
  tame(event.time_u_s);
  known(event.kind);
  known(event.direction);
  known(event.contact);
  for (Measure& measure : event.measures) {
    tame(measure.value);
    tame(measure.u);
  }
  for (Missing& missing : event.missing) known(missing.code);
}

TEST(EventJson, IsReadByLibprotobufAsTheSameMessage) {
  RandomMessage random(5);
  for (int k = 0; k < 1000; ++k) {
    Event event = random.message<Event>();
    keep_to_json(event);
    const std::string line = event_json(event);
    v1::Event back;
    ASSERT_TRUE(google::protobuf::util::JsonStringToMessage(line, &back).ok()) << line;
    ASSERT_EQ(back.SerializeAsString(), to_wire(event)) << line;
    ASSERT_EQ(line.find('\n'), std::string::npos);
  }
}

// The line and the bytes say the same, also of what comes from a file in another encoding.
TEST(EventJson, RepairsAsTheBytesDo) {
  for (const char* note :
       {"Gr\xfcn", "\xe2\x82", "a\xff\xfe\xe2\x82\xac", "\xed\xa0\x80", "\xf0\x9f\x98 b"}) {
    Event event, read;
    event.note = note;
    ASSERT_TRUE(from_wire(to_wire(event), read));
    EXPECT_EQ(event_json(event), event_json(read));
  }
}

}  // namespace
}  // namespace airlatch
