// SPDX-License-Identifier: GPL-3.0-or-later
// speech.hpp: prompts spoken aloud, for users whose hands are both busy.
#pragma once
#include <string>

namespace airlatch {

// Through spd-say or espeak-ng, whichever is there, without waiting for it; nothing where neither
// is.
void speak(const std::string& text);

}  // namespace airlatch
