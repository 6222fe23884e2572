// decode_capture.hpp: one stored capture through the decoders.
#pragma once
#include <functional>
#include <string>
#include <vector>

#include "airlatch/v1/event.pb.h"
#include "airlatch/v1/setup.pb.h"
#include "plugin/session/rig_match.hpp"
#include "plugin/sources/source.hpp"

namespace airlatch {

struct CaptureFacts {
  std::string file;
  struct Channel {
    std::string name;
    v1::Role role = v1::ROLE_UNSPECIFIED;
    double rate_hz = 0;  // 0: own times
    std::int64_t samples = 0;
  };
  std::vector<Channel> channels;  // those with a role
  double duration_s = 0;          // from the first sample to the last
  std::vector<std::string> remarks;
  std::string damage;  // why the data end early; empty: they do not
};

// For those who look at the samples too (plots): the channels once they are matched, then each raw
// block before it is decoded, its channel counted as the match counts them.
struct CaptureListener {
  std::function<void(const RigMatch&)> matched = {};
  std::function<void(const SampleBlock&)> block = {};
};

// Decodes to the capture's end; `on_event` hears each event as it becomes decidable, the file's own
// early end included (a GAP without duration). `on_progress`, where given, hears the fraction done.
CaptureFacts decode_capture(const std::string& file, const OpenOptions& options, const v1::Rig& rig,
                            const v1::Plan& plan,
                            const std::function<void(const v1::Event&)>& on_event,
                            const std::function<void(double)>& on_progress = {},
                            const CaptureListener& listener = {});

}  // namespace airlatch
