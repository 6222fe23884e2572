// SPDX-License-Identifier: GPL-3.0-or-later
// sigrok_metadata.hpp: the `metadata` entry of a libsigrok session file.
//
// A key file: sections in brackets, key=value lines, `#` comments. Keys are read in file order, as
// libsigrok does: totals stand before names.
#pragma once
#include <cstdint>
#include <string>
#include <vector>

namespace airlatch {

struct SigrokMetadata {
  static constexpr std::uint64_t kLargest = std::uint64_t{64} * 1024;  // bytes of the entry
  static constexpr int kMostChannels = 64;
  std::int64_t rate_num = 0, rate_den = 1;  // Hz; 0: none was given
  int probes = 0;                           // logic channels
  int analog = 0;
  int unitsize = 0;                // bytes of a logic sample
  std::string capturefile;         // of the logic data
  std::vector<std::string> names;  // of all channels, probes first
};

// Throws std::invalid_argument with what is wrong ("samplerate=abc is no rate").
SigrokMetadata parse_sigrok_metadata(const std::string& text);

}  // namespace airlatch
