// SPDX-License-Identifier: GPL-3.0-or-later
// protobuf.hpp: the door to libprotobuf's messages, by way of the bytes.
//
// Only for the program (report.json, schemas of recordings) and the tests: whoever includes this is
// linked to libprotobuf, which the plugin must never bring into a host's process.
//
//   const auto report = to_message<v1::Report>(judged);
#pragma once
#include <stdexcept>

#include "plugin/message/wire.hpp"

namespace airlatch {

template <typename V1, typename Message>
[[nodiscard]] V1 to_message(const Message& message) {
  V1 out;
  if (!out.ParseFromString(to_wire(message)))
    throw std::logic_error("a message's own bytes are not readable");
  return out;
}

// Throws std::invalid_argument where a string in it is not UTF-8.
template <typename Message, typename V1>
[[nodiscard]] Message from_message(const V1& message) {
  Message out;
  if (!from_wire(message.SerializeAsString(), out))
    throw std::invalid_argument("a string of the message is not UTF-8");
  return out;
}

}  // namespace airlatch
