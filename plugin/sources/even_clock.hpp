// SPDX-License-Identifier: GPL-3.0-or-later
// even_clock.hpp: the clock that printed times keep to.
#pragma once
#include <cstdint>
#include <optional>
#include <vector>

#include "decoders/stream/sample_block.hpp"

namespace airlatch {

// Within their printed resolution: of the integer rates that fit, the roundest; else a whole number
// of nanoseconds.
std::optional<SampleClock> even_clock(const std::vector<std::int64_t>& times_ns,
                                      std::int64_t resolution_ns);

}  // namespace airlatch
