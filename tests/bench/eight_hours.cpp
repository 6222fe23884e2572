// SPDX-License-Identifier: GPL-3.0-or-later
// Eight hours of four channels at 10 kS/s through the live path (recorder and decoders), faster
// than they would come: memory in the second hour against the last, and no sample lost.
//     airlatch_eight_hours [HOURS]       writes and removes a recording in the temporary folder
#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>

#include "plugin/recorder/mcap_writer.hpp"
#include "plugin/rehearse/rehearsal.hpp"
#include "plugin/session/live_chain.hpp"

namespace {

double resident_mib() {
  std::ifstream file("/proc/self/statm");
  long size = 0, resident = 0;
  file >> size >> resident;
  return static_cast<double>(resident * ::sysconf(_SC_PAGESIZE)) / 1048576;
}

}  // namespace

int main(int argc, char** argv) {
  using namespace airlatch;
  const int hours = argc > 1 ? std::atoi(argv[1]) : 8;
  constexpr std::int64_t kRate_hz = 10000;
  constexpr std::size_t kBlock = 1000;  // a tenth of a second, as instruments deliver
  const Rehearsal r =
      rehearse({.fault = "line-leak", .rate_hz = kRate_hz, .seed = 5, .hold_s = 60});
  const std::size_t chosen[] = {0, 1, 4, 5};
  const std::size_t n = r.channels[0].values.size() / kBlock * kBlock;
  std::vector<std::string> names;
  std::vector<RecordedChannel> recorded;
  for (const std::size_t c : chosen) {
    names.push_back(r.channels[c].name);
    recorded.push_back({r.channels[c].name, "", false, static_cast<double>(kRate_hz)});
  }
  const auto path = std::filesystem::temp_directory_path() /
                    ("airlatch-eight-hours-" + std::to_string(::getpid()) + ".mcap");
  std::size_t events = 0;
  std::int64_t samples = 0;
  {
    McapWriter writer(path.string(), recorded, {});
    ::unlink(path.c_str());  // gone with the process, whatever happens
    LiveChain chain(
        r.rig, {}, names, 2,
        [&](const Event& event) {
          ++events;
          writer.event(event, 0);
        },
        [](const std::string&) {});
    double second_mib = 0;
    for (int hour = 1; hour <= hours; ++hour) {
      const std::int64_t until = static_cast<std::int64_t>(hour) * 3600 * kRate_hz;
      for (; samples < until; samples += static_cast<std::int64_t>(kBlock)) {
        const double now_s = static_cast<double>(samples) / kRate_hz;
        for (std::size_t k = 0; k < std::size(chosen); ++k) {
          const auto& values = r.channels[chosen[k]].values;
          const SampleBlock block{
              .channel = k,
              .clock = r.clock,
              .first = samples,
              .values = std::span(values).subspan(static_cast<std::size_t>(samples) % n, kBlock)};
          writer.block(block);
          chain.push(block, names[k], now_s + 1);
        }
        writer.tick(now_s);
      }
      if (hour == 2) second_mib = resident_mib();
      std::printf("hour %d: %.1f MiB, %zu events, %lld dropped\n", hour, resident_mib(), events,
                  static_cast<long long>(chain.dropped()));
      std::fflush(stdout);
    }
    writer.close();
    std::printf("last hour against the second: %+.2f MiB\n", resident_mib() - second_mib);
  }
  return 0;
}
