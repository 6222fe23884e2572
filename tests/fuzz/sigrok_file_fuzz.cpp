// SPDX-License-Identifier: GPL-3.0-or-later
// libsigrok session files: a zip, its directory, metadata and chunks.
#include "tests/fuzz/mutator.hpp"
#include "tests/fuzz/target.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  airlatch::fuzz::read_capture(airlatch::fuzz::text_of(data, size));
  return 0;
}

AIRLATCH_MUTATED_BY(mutate_zip)
