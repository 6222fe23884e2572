// SPDX-License-Identifier: GPL-3.0-or-later
// instrument_server.hpp: reads one instrument through libsigrok, in a process of its own.
//
// Out   through the pipe `fd` (not waiting): what channels there are, then their samples, at the
//       end why it ended (InstrumentMessage). A host that is too slow finds a bounded queue here;
//       what that cannot hold is counted and reported.
// On SIGTERM it stops measuring, reports what it still has, and the process ends.
#pragma once
#include "plugin/live/instrument_spec.hpp"

namespace airlatch {

// To the instrument's own end, or until the host has gone: then the process ends here.
void serve_instrument(const InstrumentSpec& spec, int fd);

}  // namespace airlatch
