// SPDX-License-Identifier: GPL-3.0-or-later
// Samples of a pipe as points of the line protocol.
#include "tests/fuzz/pipe_target.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  airlatch::fuzz::decode_lines(airlatch::fuzz::text_of(data, size), airlatch::parse_line_protocol,
                               airlatch::TimeUnit::kNanoseconds);
  return 0;
}
