// SPDX-License-Identifier: GPL-3.0-or-later
// Rigs as a user writes them (text) and as a host hands them over (binary).
#include "plugin/message/setup_file.hpp"
#include "tests/fuzz/setup_target.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string bytes(airlatch::fuzz::text_of(data, size));
  airlatch::fuzz::check_text<airlatch::Rig>(bytes);
  for (const auto format : {airlatch::SetupFormat::kText, airlatch::SetupFormat::kBinary})
    airlatch::fuzz::may_refuse([&] {
      const auto parsed = airlatch::parse_rig(bytes, format, "input");
      static_cast<void>(parsed);
    });
  return 0;
}
