// SPDX-License-Identifier: GPL-3.0-or-later
// sample_lines.hpp: lines of a logging pipeline to samples.
//
// In    JSON, one sample {"channel":"motor_a","time_s":1.25,"value":2.31} or a block
//       {"channel":"motor_a","time_s":1.25,"period_s":0.0001,"values":[2.31,2.30]} a line (null is
//       a missing sample); "time" instead of "time_s" is in the unit that was asked for, or ISO
//       8601; "unit" is the values' unit, as in the header of a text file. Or the InfluxDB line
//       protocol, whose field keys are channel names.
// Out   stretches of one channel each, in V, A, kPa, degC where a unit was given. Times are
//       nanoseconds from the sender's own origin. Bad lines throw LineError, which says what is
//       wrong; nothing of such a line is used.
#pragma once
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

#include "decoders/stream/sample_block.hpp"
#include "plugin/sources/units.hpp"

namespace airlatch {

struct LineError : std::runtime_error {
  using std::runtime_error::runtime_error;
};

struct LineSamples {
  std::string channel;
  std::int64_t time_ns = 0;  // of the first value
  SampleClock clock = {};    // num_ns == 0: a single value
  std::vector<float> values;
  std::optional<Unit> unit = {};  // that was given, and is applied to the values
};

// Of "time" in JSON, and of the stamps of line protocol; kIso: ISO 8601 (JSON only).
enum class TimeUnit { kSeconds, kMilliseconds, kMicroseconds, kNanoseconds, kIso };

// Both: nothing for a blank line (or a comment, in line protocol).
std::vector<LineSamples> parse_json_line(std::string_view line, TimeUnit unit = TimeUnit::kSeconds);
std::vector<LineSamples> parse_line_protocol(std::string_view line,
                                             TimeUnit unit = TimeUnit::kNanoseconds);

// The first stamp of line protocol, read as nanoseconds: the unit it rather looks like (it would be
// a day of 1970, and a recent one in that unit), "ms" for example; else empty.
std::string rather_in(std::int64_t stamp);

}  // namespace airlatch
