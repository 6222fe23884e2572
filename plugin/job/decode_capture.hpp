// SPDX-License-Identifier: GPL-3.0-or-later
// decode_capture.hpp: one stored capture through the decoders.
#pragma once
#include <functional>
#include <string>
#include <vector>

#include "decoders/event.hpp"
#include "decoders/setup.hpp"
#include "plugin/session/capture_facts.hpp"
#include "plugin/session/rig_match.hpp"
#include "plugin/sources/source.hpp"

namespace airlatch {

// For those who look at the samples too (plots): the channels once they are matched, then each raw
// block before it is decoded, its channel counted as the match counts them.
struct CaptureListener {
  std::function<void(const RigMatch&)> matched = {};
  std::function<void(const SampleBlock&)> block = {};
};

// Decodes to the capture's end; `on_event` receives each event as it becomes decidable, the file's
// own early end included (a GAP without duration). `on_progress`, where given, receives the
// fraction done.
CaptureFacts decode_capture(const std::string& file, const OpenOptions& options, const Rig& rig,
                            const Plan& plan, const std::function<void(const Event&)>& on_event,
                            const std::function<void(double)>& on_progress = {},
                            const CaptureListener& listener = {},
                            RigUse use = RigUse::kThisCapture);

}  // namespace airlatch
