// SPDX-License-Identifier: GPL-3.0-or-later
// What comes through an instrument's pipe: frames, whole and cut anywhere.
#include "plugin/live/message_frames.hpp"
#include "tests/fuzz/target.hpp"

namespace airlatch::fuzz {
namespace {

std::string read_in_pieces(std::string_view bytes, std::size_t piece) {
  FrameReader reader;
  std::vector<v1::InstrumentMessage> messages;
  for (; !bytes.empty(); bytes.remove_prefix(std::min(piece, bytes.size()))) {
    reader.append(bytes.substr(0, piece));
    reader.take(messages);
  }
  std::string again;
  for (const v1::InstrumentMessage& message : messages) append_frame(message, again);
  return again;
}

}  // namespace
}  // namespace airlatch::fuzz

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto bytes = airlatch::fuzz::text_of(data, size);
  airlatch::fuzz::promise(airlatch::fuzz::read_in_pieces(bytes, size + 1) ==
                              airlatch::fuzz::read_in_pieces(bytes, 1 + size % 13),
                          "messages do not depend on where the pipe cuts them");
  return 0;
}
