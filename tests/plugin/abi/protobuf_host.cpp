// SPDX-License-Identifier: GPL-3.0-or-later
// A host that has compiled the .proto files itself and links libprotobuf, of whatever version: reads
// the plugin's bytes with its own messages while the plugin works, and hands it a rig of its own.
// Prints each event, so that hosts with different versions can be compared; fails where its own
// libprotobuf would have written other bytes.
#include <cstdio>
#include <cstdlib>
#include <string>
#include <vector>

#include "airlatch/v1/event.pb.h"
#include "airlatch/v1/report.pb.h"
#include "airlatch/v1/setup.pb.h"
#include "tests/plugin/abi/drawn_run.h"

namespace {

void need(bool holds, const char* what) {
  if (holds) return;
  std::fprintf(stderr, "protobuf_host: %s: %s\n", what, airlatch_last_error(nullptr));
  std::exit(1);
}

template <typename Message>
Message parsed(const void* bytes, size_t size) {
  Message message;
  const std::string whole(static_cast<const char*>(bytes), size);
  need(message.ParseFromString(whole), "the plugin's bytes cannot be parsed");
  need(message.SerializeAsString() == whole, "libprotobuf writes other bytes");
  return message;
}

void on_event(const void* bytes, size_t size, void* count) {
  const auto event = parsed<airlatch::v1::Event>(bytes, size);
  std::printf("%s %.6f %d measures\n", airlatch::v1::Kind_Name(event.kind()).c_str(),
              event.time_s(), event.measures_size());
  ++*static_cast<int*>(count);
}

std::string rig_bytes() {
  airlatch::v1::Rig rig;
  auto* channel = rig.add_channel();
  channel->set_source("line_kpa");
  channel->set_role(airlatch::v1::LINE_PRESSURE);
  channel->set_u_abs(0.25);
  rig.set_line_volume_ml(250);
  return rig.SerializeAsString();
}

}  // namespace

int main() {
  int events = 0;
  const std::string rig = rig_bytes();
  airlatch_options options = AIRLATCH_OPTIONS_INIT;
  options.rig = rig.data();
  options.rig_size = rig.size();
  options.format = AIRLATCH_BINARY;
  options.channels = kDrawn;
  options.channel_count = kDrawnChannels;
  options.on_event = on_event;
  options.context = &events;
  airlatch_decoder* decoder = nullptr;
  need(airlatch_create(&options, &decoder) == AIRLATCH_OK, "create");
  std::vector<float> values(kDrawnSamples);
  for (uint32_t c = 0; c < kDrawnChannels; ++c) {
    const airlatch_block block = drawn_block(c, values.data());
    need(airlatch_push(decoder, &block) == AIRLATCH_OK, "push");
  }
  need(airlatch_finish(decoder) == AIRLATCH_OK, "finish");
  const void* bytes = nullptr;
  size_t size = 0;
  need(airlatch_report(decoder, &bytes, &size) == AIRLATCH_OK, "report");
  const auto report = parsed<airlatch::v1::Report>(bytes, size);
  need(report.events_size() == events && report.rig().SerializeAsString() == rig,
       "the report has not the events and the rig of before");
  need(airlatch_destroy(decoder) == AIRLATCH_OK, "destroy");
  std::fprintf(stderr, "libprotobuf %d: %d events\n", GOOGLE_PROTOBUF_VERSION, events);
}
