#include "plugin/session/event_json.hpp"

#include <google/protobuf/util/json_util.h>
#include <gtest/gtest.h>

#include "decoders/context.hpp"

namespace airlatch {
namespace {

TEST(EventJson, TheContractsLine) {
  v1::Event event;
  event.set_kind(v1::MOTOR_START);
  event.set_time_s(2.5);
  event.set_time_u_s(0.0005);
  event.set_direction(v1::PRESSURE);
  event.set_contact(v1::A);
  add_measure(event, "inrush_peak", {8.5, 0.25}, "A");
  EXPECT_EQ(event_json(event),
            R"({"kind":"MOTOR_START","time_s":2.5,"time_u_s":0.0005,"direction":"PRESSURE",)"
            R"("contact":"A","measures":[{"name":"inrush_peak","value":8.5,"u":0.25,"unit":"A"}],)"
            R"("note":""})");
}

// The line is put together by hand: no field of the message may be missing from it.
TEST(EventJson, HasEveryField) {
  v1::Event event;
  event.add_measures();
  const std::string line = event_json(event);
  for (const auto* message : {v1::Event::descriptor(), v1::Measure::descriptor()})
    for (int k = 0; k < message->field_count(); ++k)
      EXPECT_NE(line.find('"' + message->field(k)->name() + "\":"), std::string::npos)
          << message->field(k)->full_name();
}

TEST(EventJson, RoundTrip) {
  v1::Event event;
  event.set_kind(v1::GAP);
  event.set_time_s(1.0 / 3);
  event.set_note("no samples of \"line <kPa>\"\n\x01 ünd");
  v1::Event back;
  ASSERT_TRUE(google::protobuf::util::JsonStringToMessage(event_json(event), &back).ok());
  EXPECT_EQ(back.SerializeAsString(), event.SerializeAsString());
  EXPECT_EQ(event_json(event).find('\n'), std::string::npos);
}

}  // namespace
}  // namespace airlatch
