// SPDX-License-Identifier: GPL-3.0-or-later
// Jobs as a user writes them (text).
#include "plugin/message/plans.hpp"
#include "plugin/message/setup_file.hpp"
#include "tests/fuzz/setup_target.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto bytes = airlatch::fuzz::text_of(data, size);
  airlatch::fuzz::check_text<airlatch::Job>(bytes);
  const airlatch::fuzz::MemoryFile file(bytes);
  airlatch::fuzz::may_refuse([&] {
    static_cast<void>(airlatch::read_job(file.path(), airlatch::find_plan("branch-isolation")));
  });
  return 0;
}
