// event_json.hpp: an event as the contract's JSON line.
#pragma once
#include <string>

#include "airlatch/v1/event.pb.h"

namespace airlatch {

// Protobuf JSON mapping, proto field names kept, defaults printed; no newline.
std::string event_json(const v1::Event& event);

}  // namespace airlatch
