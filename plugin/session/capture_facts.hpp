// SPDX-License-Identifier: GPL-3.0-or-later
// capture_facts.hpp: what is known of a capture beside its events.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "decoders/setup.hpp"
#include "plugin/session/plausibility.hpp"

namespace airlatch {

struct CaptureFacts {
  std::string file;
  struct Channel {
    std::string name;
    Role role = Role::UNSPECIFIED;
    double rate_hz = 0;  // 0: own times
    std::int64_t samples = 0;
  };
  std::vector<Channel> channels;             // those with a role
  double duration_s = 0;                     // from the first sample to the last
  std::optional<double> source_most_v = {};  // the highest that the source's channel ever read
  std::vector<std::string> doubts = {};      // why readings cannot be believed: told first
  Distrusted distrusted = {};                // roles on which no verdict rests
  std::vector<std::string> remarks;
  std::vector<std::string> understood = {};  // how the file was read, which channel is what
  std::string sha256 = {};  // of the file's bytes; empty: not asked for, or not known
  std::string damage;       // why the data end early; empty: they do not
};

}  // namespace airlatch
