// The example hosts, run as programs: the same capture gives the same events' bytes in all three.
#include <gtest/gtest.h>

#include <array>
#include <cstdio>

#include "plugin/message/wire.hpp"
#include "plugin/rehearse/rehearsal.hpp"
#include "plugin/rehearse/write.hpp"
#include "tests/support/files.hpp"
#include "tests/support/score.hpp"

namespace airlatch {
namespace {
using namespace test;

std::string output_of(const std::string& command) {
  std::string out;
  FILE* pipe = ::popen(command.c_str(), "r");
  std::array<char, 4096> buffer{};
  while (const std::size_t n = std::fread(buffer.data(), 1, buffer.size(), pipe))
    out.append(buffer.data(), n);
  EXPECT_EQ(::pclose(pipe), 0) << command;
  return out;
}

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

// Nothing but the ABI can be seen from outside.
TEST(Hosts, OnlyTheAbiIsVisible) {
  const std::string seen = output_of("nm -D --defined-only " AIRLATCH_BINARY_DIR
                                     "/plugin/libairlatch.so | awk '$2 != \"A\" {print $3}'"
                                     " | sed 's/@.*//' | grep -v '^__' | LC_ALL=C sort");
  EXPECT_EQ(seen, read_file(AIRLATCH_SOURCE_DIR "/tests/plugin/abi/symbols.txt"));
  EXPECT_NE(output_of("readelf -d " AIRLATCH_BINARY_DIR "/plugin/libairlatch.so")
                .find("[libairlatch.so.1]"),
            std::string::npos);
}

}  // namespace
}  // namespace airlatch
