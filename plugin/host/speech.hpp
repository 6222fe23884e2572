// speech.hpp: prompts said aloud, for who has both hands busy.
#pragma once
#include <string>

namespace airlatch {

// Through spd-say or espeak-ng, whichever is there, without waiting for it; nothing where neither is.
void speak(const std::string& text);

}  // namespace airlatch
