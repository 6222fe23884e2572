// SPDX-License-Identifier: GPL-3.0-or-later
// wire.hpp: a message as bytes of protobuf's binary format, without its run-time.
//
// In:   a struct of fields.hpp.
// Out:  the very bytes that libprotobuf writes for it; read back likewise.
// How:  protobuf's encoding over the rows of fields.hpp; bytes are put together by libprotozero.
// Cost: of the bytes written; a nested message is moved once a level when its length is known.
//
// Where libprotobuf complains on stderr and writes a string that is not UTF-8, which no reader
// accepts, here the string is repaired. There is no other difference.
#pragma once
#include <string>
#include <string_view>

#include "decoders/event.hpp"
#include "decoders/setup.hpp"
#include "plugin/message/report.hpp"

namespace airlatch {

// For Event, Rig, Plan, Job and Report.
template <typename Message>
[[nodiscard]] std::string to_wire(const Message& message);

// False, with `message` as it was, where the bytes are no such message: cut short, a length or tag
// that cannot be, a string that is not UTF-8. Fields may stand in any order, the last of a scalar
// counts, a message that comes twice is merged, and fields that are not known are passed over, also
// those known under another wire type.
template <typename Message>
[[nodiscard]] bool from_wire(std::string_view bytes, Message& message);

}  // namespace airlatch
