// SPDX-License-Identifier: GPL-3.0-or-later
// Samples of a pipe as JSON lines.
#include "tests/fuzz/pipe_target.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  airlatch::fuzz::decode_lines(airlatch::fuzz::text_of(data, size), airlatch::parse_json_line,
                               airlatch::TimeUnit::kSeconds);
  return 0;
}
