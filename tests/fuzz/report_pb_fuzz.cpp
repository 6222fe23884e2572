// SPDX-License-Identifier: GPL-3.0-or-later
// Reports read back from report.pb.
#include "tests/fuzz/report_target.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  airlatch::fuzz::check_report(airlatch::fuzz::text_of(data, size));
  return 0;
}
