// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/message/event_json.hpp"

#include <nlohmann/json.hpp>

#include "plugin/system/shown_text.hpp"

namespace airlatch {

std::string event_json(const Event& event) {
  using Json = nlohmann::ordered_json;
  Json measures = Json::array();
  for (const Measure& measure : event.measures)
    measures.push_back({{"name", measure.name},
                        {"value", measure.value},
                        {"u", measure.u},
                        {"unit", measure.unit}});
  Json missing = Json::array();
  for (const Missing& one : event.missing)
    missing.push_back({{"measure", one.measure}, {"code", name_of(one.code)}, {"text", one.text}});
  const Json line{{"kind", name_of(event.kind)},       {"time_s", event.time_s},
                  {"time_u_s", event.time_u_s},        {"direction", name_of(event.direction)},
                  {"contact", name_of(event.contact)}, {"measures", std::move(measures)},
                  {"missing", std::move(missing)},     {"note", event.note}};
  return json_shown(line.dump(-1, ' ', false, Json::error_handler_t::replace));
}

}  // namespace airlatch
