// SPDX-License-Identifier: GPL-3.0-or-later
// oracle.hpp: what libprotobuf makes of what the program writes.
#pragma once
#include <google/protobuf/util/json_util.h>

#include <string>

#include "airlatch/v1/event.pb.h"
#include "plugin/message/wire.hpp"

namespace airlatch::test {

// An event's JSON line, read by libprotobuf.
inline bool event_of_json(const std::string& line, Event& event) {
  v1::Event message;
  return google::protobuf::util::JsonStringToMessage(line, &message).ok() &&
         from_wire(message.SerializeAsString(), event);
}

}  // namespace airlatch::test
