// SPDX-License-Identifier: GPL-3.0-or-later
// event_json.hpp: an event as one JSON line of the contract.
#pragma once
#include <string>

#include "decoders/event.hpp"

namespace airlatch {

// Protobuf JSON mapping, proto field names kept, defaults printed; no newline.
std::string event_json(const Event& event);

}  // namespace airlatch
