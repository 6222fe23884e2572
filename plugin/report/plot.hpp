// SPDX-License-Identifier: GPL-3.0-or-later
// plot.hpp: what is kept of a capture to draw it.
#pragma once
#include <string>
#include <vector>

#include "decoders/event.hpp"
#include "decoders/setup.hpp"
#include "plugin/report/envelope.hpp"

namespace airlatch {

struct PlottedChannel {
  std::string name;
  Role role = Role::UNSPECIFIED;
  Envelope envelope;
};

struct CapturePlot {
  std::vector<PlottedChannel> channels;
  std::vector<Event> events;  // by time
  double duration_s = 0;
};

}  // namespace airlatch
