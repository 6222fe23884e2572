// SPDX-License-Identifier: GPL-3.0-or-later
// The example hosts, run as programs: the same capture gives the same events' bytes in all three.
#include <gtest/gtest.h>

#include <cstdio>

#include "plugin/message/wire.hpp"
#include "plugin/rehearse/rehearsal.hpp"
#include "plugin/rehearse/write.hpp"
#include "tests/plugin/abi/output_of.hpp"
#include "tests/support/files.hpp"
#include "tests/support/score.hpp"

namespace airlatch {
namespace {
using namespace test;

TEST(Hosts, AllThreePrintTheSame) {
  const Folder folder;
  const Rehearsal r = rehearse({.fault = "line-leak", .rate_hz = 3000, .seed = 73, .hold_s = 6});
  write_session(folder.at("capture.sr"), r);
  write_rig(folder.at("bench.rig"), r);
  {
    std::ofstream csv(folder.at("capture.csv"));
    csv << "time";
    for (const auto& channel : r.channels) csv << "," << channel.name;
    csv << "\n";
    char cell[40];
    for (std::size_t k = 0; k < r.channels[0].values.size(); ++k) {
      std::snprintf(cell, sizeof cell, "%.9f",
                    1e-9 * static_cast<double>(r.clock.time_ns(static_cast<std::int64_t>(k))));
      csv << cell;
      for (const auto& channel : r.channels) {
        std::snprintf(cell, sizeof cell, ",%.9g", static_cast<double>(channel.values[k]));
        csv << cell;
      }
      csv << "\n";
    }
  }
  std::string expected;
  for (const Event& event : decode_rehearsal(r)) {
    for (const char c : to_wire(event)) {
      char pair[3];
      std::snprintf(pair, sizeof pair, "%02x", static_cast<unsigned char>(c));
      expected += pair;
    }
    expected += "\n";
  }
  const std::string examples = AIRLATCH_BINARY_DIR "/plugin/examples/",
                    rig = folder.at("bench.rig");
  EXPECT_EQ(output_of(examples + "csv_host " + folder.at("capture.csv") + " 3000 " + rig),
            expected);
  // libsigrok keeps a little of every session it loads.
  EXPECT_EQ(output_of("ASAN_OPTIONS=detect_leaks=0 " + examples + "tap_host " +
                      folder.at("capture.sr") + " " + rig),
            expected);
  // A sanitised library in a plain interpreter needs its runtime loaded first.
  EXPECT_EQ(
      output_of(std::string(AIRLATCH_PYTHON_ENV) +
                " python3 " AIRLATCH_SOURCE_DIR "/plugin/examples/csv_host.py " AIRLATCH_BINARY_DIR
                "/plugin/libairlatch.so " +
                folder.at("capture.csv") + " 3000 " + rig),
      expected);
}

}  // namespace
}  // namespace airlatch
