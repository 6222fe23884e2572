// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/live/message_frames.hpp"

#include <cstdint>

namespace airlatch {
namespace {
constexpr std::size_t kLength_bytes = 4;
}

void append_frame(const v1::InstrumentMessage& message, std::string& bytes) {
  const std::string body = message.SerializeAsString();
  for (std::size_t k = 0; k < kLength_bytes; ++k)
    bytes += static_cast<char>(body.size() >> (8 * k) & 0xff);
  bytes += body;
}

void FrameReader::take(std::vector<v1::InstrumentMessage>& messages) {
  std::size_t at = 0;
  while (bytes_.size() - at >= kLength_bytes) {
    std::uint32_t length = 0;
    for (std::size_t k = 0; k < kLength_bytes; ++k)
      length |= static_cast<std::uint32_t>(static_cast<unsigned char>(bytes_[at + k])) << (8 * k);
    if (bytes_.size() - at - kLength_bytes < length) break;
    v1::InstrumentMessage message;
    if (message.ParseFromArray(bytes_.data() + at + kLength_bytes, static_cast<int>(length)))
      messages.push_back(std::move(message));
    at += kLength_bytes + length;
  }
  bytes_.erase(0, at);
}

}  // namespace airlatch
