// SPDX-License-Identifier: GPL-3.0-or-later
// Plans as a user writes them (text) and as a host hands them over (binary).
#include "plugin/message/setup_file.hpp"
#include "plugin/session/limits.hpp"
#include "tests/fuzz/setup_target.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string bytes(airlatch::fuzz::text_of(data, size));
  airlatch::fuzz::check_text<airlatch::Plan>(bytes);
  for (const auto format : {airlatch::SetupFormat::kText, airlatch::SetupFormat::kBinary})
    airlatch::fuzz::may_refuse([&] {
      const auto parsed = airlatch::parse_plan(bytes, format, "input");
      static_cast<void>(airlatch::limits_of(parsed));
    });
  return 0;
}
