// summary.hpp: a decoded capture in plain words.
#pragma once
#include <string>
#include <vector>

#include "plugin/session/decode_capture.hpp"

namespace airlatch {

// One line an event, sorted by time, then a table of runs, one of decays, and remarks.
std::string summary(const CaptureFacts& facts, const std::vector<v1::Event>& events);

// "blowing", "sucking", "direction not known".
const char* direction_words(v1::Direction direction);

}  // namespace airlatch
