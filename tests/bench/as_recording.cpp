// SPDX-License-Identifier: GPL-3.0-or-later
// A capture as a recording (MCAP), for whole-process benchmarks:  as_recording CAPTURE OUT.mcap
#include <cstdio>

#include "plugin/recorder/mcap_writer.hpp"
#include "plugin/sources/source.hpp"

int main(int argc, char** argv) {
  using namespace airlatch;
  if (argc != 3) {
    std::fputs("as_recording CAPTURE OUT.mcap\n", stderr);
    return 64;
  }
  const auto source = open_source(argv[1]);
  std::vector<RecordedChannel> channels;
  for (const SourceChannel& channel : source->channels())
    channels.push_back({channel.name, channel.unit, channel.logic,
                        channel.clock.num_ns > 0 ? 1 / channel.clock.period_s() : 0});
  McapWriter writer(argv[2], channels, {});
  for (SampleBlock block; source->next(block);) writer.block(block);
  writer.close();
  return 0;
}
