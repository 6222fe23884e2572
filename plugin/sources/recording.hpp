// SPDX-License-Identifier: GPL-3.0-or-later
// recording.hpp: the program's own recordings (MCAP), read back, and others'.
//
// In    an MCAP file, of any writer, whose channels hold airlatch.v1.SampleBlock as protobuf under
//       the topic /samples/NAME; messages in chunks without compression, or outside of chunks.
//       Channels may be declared anywhere (recording_channels.hpp).
// Out   the blocks in the order in which they were recorded, chunk by chunk, each checked by its
//       CRC. A recording that ends without its index (a kill, a pulled plug, a full disk) is read
//       up to its last complete chunk, and `damage()` says that it was cut.
#pragma once
#include <memory>
#include <string>

#include "plugin/sources/source.hpp"

namespace airlatch {

// Throws InputError.
std::unique_ptr<Source> open_recording(const std::string& path);

}  // namespace airlatch
