// SPDX-License-Identifier: GPL-3.0-or-later
// replay_input.hpp: a rig and a capture as one input.
#pragma once
#include <string_view>

namespace airlatch::fuzz {

struct ReplayInput {
  static constexpr std::string_view kRig = "# rig\n", kCapture = "# capture\n";
  explicit ReplayInput(std::string_view bytes) : capture(bytes) {
    const std::size_t end = bytes.find(kCapture);
    if (!bytes.starts_with(kRig) || end == std::string_view::npos) return;
    rig = bytes.substr(0, end);
    capture = bytes.substr(end + kCapture.size());
  }
  std::string_view rig = {}, capture;
};

}  // namespace airlatch::fuzz
