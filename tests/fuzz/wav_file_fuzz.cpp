// SPDX-License-Identifier: GPL-3.0-or-later
// WAV files.
#include "tests/fuzz/target.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  airlatch::fuzz::read_capture(airlatch::fuzz::text_of(data, size));
  return 0;
}
