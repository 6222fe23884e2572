// SPDX-License-Identifier: GPL-3.0-or-later
// sample_lines.hpp: lines of a logging pipeline to samples.
//
// In    JSON, one sample {"channel":"motor_a","time_s":1.25,"value":2.31} or a block
//       {"channel":"motor_a","time_s":1.25,"period_s":0.0001,"values":[2.31,2.30]} a line (null is
//       a missing sample); or the InfluxDB line protocol, whose field keys are channel names and
//       whose time stamps are nanoseconds.
// Out   stretches of one channel each. Times are nanoseconds from the sender's own origin. Bad
//       lines throw LineError, which says what is wrong; nothing of such a line is used.
#pragma once
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

#include "decoders/stream/sample_block.hpp"

namespace airlatch {

struct LineError : std::runtime_error {
  using std::runtime_error::runtime_error;
};

struct LineSamples {
  std::string channel;
  std::int64_t time_ns = 0;  // of the first value
  SampleClock clock = {};    // num_ns == 0: a single value
  std::vector<float> values;
};

// Both: nothing for a blank line (or a comment, in line protocol).
std::vector<LineSamples> parse_json_line(std::string_view line);
std::vector<LineSamples> parse_line_protocol(std::string_view line);

}  // namespace airlatch
