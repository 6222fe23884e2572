#include "plugin/session/event_json.hpp"

#include <google/protobuf/util/json_util.h>

namespace airlatch {

std::string event_json(const v1::Event& event) {
  google::protobuf::util::JsonPrintOptions options;
  options.preserve_proto_field_names = true;
  options.always_print_primitive_fields = true;
  std::string line;
  const auto status = google::protobuf::util::MessageToJsonString(event, &line, options);
  return status.ok() ? line : std::string();
}

}  // namespace airlatch
