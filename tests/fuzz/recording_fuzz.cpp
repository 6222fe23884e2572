// SPDX-License-Identifier: GPL-3.0-or-later
// Recordings (MCAP): records, chunks, channels, blocks of samples.
#include "tests/fuzz/mutator.hpp"
#include "tests/fuzz/target.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  airlatch::fuzz::read_capture(airlatch::fuzz::text_of(data, size));
  return 0;
}

AIRLATCH_MUTATED_BY(mutate_mcap)
