// SPDX-License-Identifier: GPL-3.0-or-later
// message_frames.hpp: InstrumentMessages as bytes of a pipe, and back.
//
// How   the length of each message in 4 bytes, little-endian, then the message.
#pragma once
#include <string>
#include <string_view>
#include <vector>

#include "airlatch/v1/sample.pb.h"

namespace airlatch {

void append_frame(const v1::InstrumentMessage& message, std::string& bytes);

// Cut anywhere: what is not whole yet is kept.
class FrameReader {
 public:
  void append(std::string_view bytes) { bytes_ += bytes; }
  // All messages that are whole, behind those that are there. One that cannot be read is left out.
  void take(std::vector<v1::InstrumentMessage>& messages);

 private:
  std::string bytes_;
};

}  // namespace airlatch
