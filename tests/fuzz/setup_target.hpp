// SPDX-License-Identifier: GPL-3.0-or-later
// setup_target.hpp: what holds for every message that users write as text.
#pragma once
#include <string>
#include <string_view>

#include "plugin/message/text_format.hpp"
#include "plugin/message/wire.hpp"
#include "tests/fuzz/target.hpp"

namespace airlatch::fuzz {

// Text that is read prints as text that is read again, to the same; so do the bytes on the wire.
template <typename Message>
void check_text(std::string_view text) {
  Message message;
  Places places;
  try {
    message = parse_text<Message>(text, &places);
  } catch (const TextError&) {
    if (!from_wire(text, message)) return;
  }
  const std::string printed = print_text(message);
  promise(print_text(parse_text<Message>(printed)) == printed, "printed text reads as it was");
  Message again;
  promise(from_wire(to_wire(message), again), "bytes that were written can be read");
  promise(print_text(again) == printed, "bytes that were written read as they were");
}

}  // namespace airlatch::fuzz
