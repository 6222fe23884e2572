// SPDX-License-Identifier: GPL-3.0-or-later
// instrument_faults.hpp: what goes wrong in the instruments, after the sensors have measured.
//
// In    the script's faults of instruments, the channels on their clock.
// Out   the channels as recorded, and the truth about them: GAP from the first missing sample to the
//       first after it, CLIPPED from the first sample at the limit to the one after the last, each
//       with its `duration` (s).
// How   lost samples are not-a-number in every channel. A range that is too small clips in the sensor
//       already: here its stretches are only found.
#pragma once
#include <vector>

#include "decoders/event.hpp"
#include "decoders/stream/sample_block.hpp"
#include "plugin/rehearse/faults.hpp"
#include "plugin/rehearse/sensors.hpp"

namespace airlatch {

std::vector<Event> lose_samples(const Script& script, const SampleClock& clock,
                                std::vector<SensorChannel>& channels);
std::vector<Event> truth_of_clipping(const Script& script, const SampleClock& clock,
                                     const std::vector<SensorChannel>& channels);

}  // namespace airlatch
