#include "plugin/session/event_json.hpp"

#include <nlohmann/json.hpp>

namespace airlatch {

// Protobuf's own printer would do, in ten times the time: it works through a type resolver.
std::string event_json(const v1::Event& event) {
  using Json = nlohmann::ordered_json;
  Json measures = Json::array();
  for (const v1::Measure& measure : event.measures())
    measures.push_back({{"name", measure.name()},
                        {"value", measure.value()},
                        {"u", measure.u()},
                        {"unit", measure.unit()}});
  const Json line{{"kind", v1::Kind_Name(event.kind())},
                  {"time_s", event.time_s()},
                  {"time_u_s", event.time_u_s()},
                  {"direction", v1::Direction_Name(event.direction())},
                  {"contact", v1::Contact_Name(event.contact())},
                  {"measures", std::move(measures)},
                  {"note", event.note()}};
  return line.dump(-1, ' ', false, Json::error_handler_t::replace);
}

}  // namespace airlatch
