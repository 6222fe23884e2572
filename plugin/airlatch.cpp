// SPDX-License-Identifier: GPL-3.0-or-later
// The C ABI on a session: every function is a guard around a few lines of C++.
#include "plugin/airlatch.h"

#include <algorithm>
#include <cstddef>
#include <cstring>
#include <memory>
#include <new>
#include <string>
#include <vector>

#include "plugin/host_session.hpp"
#include "plugin/system/utf8.hpp"

namespace {

using airlatch::HostSession;
using airlatch::Refused;

// One line of UTF-8 that can be written when there is no memory left.
class ErrorLine {
 public:
  void clear() noexcept { text_[0] = 0; }
  // A text that is too long is cut between two characters. One that is not UTF-8, since it repeats
  // what the host handed over, keeps its ASCII.
  void set(const char* text) noexcept {
    std::size_t size = std::strlen(text);
    if (size > kLongest) {
      size = kLongest;
      while (size > kLongest - 3 && is_inside_character(text[size])) --size;
    }
    const bool utf8 = airlatch::is_utf8({text, size});
    std::transform(text, text + size, text_, [utf8](char c) {
      const auto byte = static_cast<unsigned char>(c);
      if (byte < 0x20 || byte == 0x7f) return ' ';
      return byte < 0x80 || utf8 ? c : '?';
    });
    text_[size] = 0;
  }
  [[nodiscard]] const char* text() const noexcept { return text_; }

 private:
  static constexpr std::size_t kLongest = 1023;
  static bool is_inside_character(char c) { return (static_cast<unsigned char>(c) & 0xC0) == 0x80; }
  char text_[kLongest + 1] = {};
};

// Why the last call on this thread failed that had no decoder to keep its reason: none was given, or
// it was in use.
thread_local ErrorLine thread_error;

}  // namespace

struct airlatch_decoder {
  HostSession session;
  mutable bool busy = false;  // inside a call: the callback may not come back
  bool broken = false;        // a call failed half way
  mutable ErrorLine error;
};

namespace {

airlatch_status refuse(ErrorLine& line, airlatch_status status, const char* why) {
  line.set(*why ? why : "an exception that says nothing");
  return status;
}

// Does the work; what it throws becomes a status and one line.
template <typename Work>
airlatch_status caught(ErrorLine& line, airlatch_status otherwise, Work&& work) noexcept {
  line.clear();
  try {
    return work();
  } catch (const Refused& refused) {
    return refuse(line, static_cast<airlatch_status>(refused.status), refused.why);
  } catch (const std::bad_alloc&) {
    return refuse(line, AIRLATCH_NO_MEMORY, "not enough memory");
  } catch (const std::exception& error) {
    return refuse(line, otherwise, error.what());
  } catch (...) {
    return refuse(line, otherwise, "a callback left by an exception");
  }
}

// What a call may find the decoder in.
enum Needs { kNothing = 0, kSound = 1, kOpen = 2 };  // not broken; not finished either

template <typename Decoder, typename Work>
airlatch_status guarded(Decoder* decoder, Needs needs, Work&& work) noexcept {
  if (!decoder) return refuse(thread_error, AIRLATCH_MISUSE, "the decoder is null");
  if (decoder->busy)
    return refuse(thread_error, AIRLATCH_MISUSE,
                  "a call for the decoder from inside its own on_event");
  if (needs != kNothing && decoder->broken)
    return refuse(decoder->error, AIRLATCH_BROKEN,
                  "an earlier call failed half way; reset or destroy the decoder");
  if (needs == kOpen && decoder->session.finished())
    return refuse(decoder->error, AIRLATCH_MISUSE,
                  "the capture was finished; reset the decoder for the next one");
  decoder->busy = true;
  const airlatch_status status = caught(decoder->error, AIRLATCH_BROKEN, work);
  decoder->busy = false;
  if constexpr (!std::is_const_v<Decoder>)
    if (status == AIRLATCH_NO_MEMORY || status == AIRLATCH_BROKEN) decoder->broken = true;
  return status;
}

// The host's struct, with the members it does not know as zero; a size that ends inside a member
// leaves that member out. `least`: what version 1 of the interface had.
template <typename Struct>
bool read_struct(const Struct* from, std::size_t least, Struct& to) {
  if (!from || from->struct_size < least) return false;
  to = {};
  const std::size_t whole = from->struct_size / sizeof(void*) * sizeof(void*);
  std::memcpy(&to, from, std::min(whole, sizeof(Struct)));
  return true;
}
constexpr std::size_t kOptionsOfVersion1 = offsetof(airlatch_options, on_event);
constexpr std::size_t kBlockOfVersion1 = offsetof(airlatch_block, count) + sizeof(std::size_t);
constexpr std::size_t kLeastInfo = offsetof(airlatch_info, capabilities);

// How much of `airlatch_info` is handed out: members that fit whole.
std::size_t whole_members(std::size_t info_size) {
  if (info_size >= sizeof(airlatch_info)) return sizeof(airlatch_info);
  return std::min(info_size / sizeof(std::uint32_t) * sizeof(std::uint32_t),
                  offsetof(airlatch_info, version));
}

// The options' channels, whose elements may be those of an older or newer host.
std::vector<airlatch_channel> channels_of(const airlatch_options& options) {
  if (!options.channels || options.channel_count == 0 || options.channel_count > 4096)
    throw Refused{AIRLATCH_MISUSE, "options.channels must name 1 to 4096 channels"};
  if (options.channel_size < sizeof(const char*) || options.channel_size > 4096)
    throw Refused{AIRLATCH_MISUSE, "options.channel_size must be sizeof(airlatch_channel)"};
  std::vector<airlatch_channel> out(options.channel_count);
  for (std::size_t c = 0; c < out.size(); ++c) {
    std::memcpy(&out[c], reinterpret_cast<const char*>(options.channels) + c * options.channel_size,
                std::min(options.channel_size, sizeof(airlatch_channel)));
    if (!out[c].name) throw Refused{AIRLATCH_MISUSE, "a channel has no name"};
  }
  return out;
}

// Bytes that belong to the session until the next call.
airlatch_status hand_out(const std::string* bytes, const void** data, std::size_t* size) {
  if (!bytes) return AIRLATCH_NO_EVENT;
  *data = bytes->data();
  *size = bytes->size();
  return AIRLATCH_OK;
}

void need_place(const void** data, std::size_t* size, const char* why) {
  if (!data || !size) throw Refused{AIRLATCH_MISUSE, why};
  *data = nullptr;
  *size = 0;
}

}  // namespace

extern "C" {

airlatch_status airlatch_get_info(airlatch_info* info) {
  return caught(thread_error, AIRLATCH_BROKEN, [&] {
    if (!info || info->struct_size < kLeastInfo)
      throw Refused{AIRLATCH_MISUSE, "info is null, or struct_size is not set"};
    const airlatch_info full = {info->struct_size, AIRLATCH_ABI,
                                AIRLATCH_CAN_CALL_BACK | AIRLATCH_CAN_REPORT | AIRLATCH_CAN_JSON,
                                AIRLATCH_VERSION};
    std::memcpy(info, &full, whole_members(info->struct_size));
    return AIRLATCH_OK;
  });
}

airlatch_status airlatch_create(const airlatch_options* options, airlatch_decoder** decoder) {
  return caught(thread_error, AIRLATCH_BAD_SETUP, [&] {
    if (!decoder) throw Refused{AIRLATCH_MISUSE, "nowhere to put the decoder"};
    *decoder = nullptr;
    airlatch_options all;
    if (!read_struct(options, kOptionsOfVersion1, all))
      throw Refused{AIRLATCH_MISUSE, "options are null, or struct_size is not set"};
    auto made = std::make_unique<airlatch_decoder>();
    made->session.set_up(all, channels_of(all));
    *decoder = made.release();
    return AIRLATCH_OK;
  });
}

airlatch_status airlatch_push(airlatch_decoder* decoder, const airlatch_block* block) {
  return guarded(decoder, kOpen, [&] {
    airlatch_block all;
    if (!read_struct(block, kBlockOfVersion1, all))
      throw Refused{AIRLATCH_MISUSE, "the block is null, or struct_size is not set"};
    decoder->session.push(all);
    return AIRLATCH_OK;
  });
}

airlatch_status airlatch_flush(airlatch_decoder* decoder, int64_t until_ns) {
  return guarded(decoder, kOpen, [&] {
    decoder->session.flush(until_ns);
    return AIRLATCH_OK;
  });
}

airlatch_status airlatch_end_channel(airlatch_decoder* decoder, uint32_t channel) {
  return guarded(decoder, kOpen, [&] {
    decoder->session.end_channel(channel);
    return AIRLATCH_OK;
  });
}

airlatch_status airlatch_poll(airlatch_decoder* decoder, const void** event, size_t* size) {
  return guarded(decoder, kNothing, [&] {
    need_place(event, size, "nowhere to put the event");
    return hand_out(decoder->session.poll(), event, size);
  });
}

airlatch_status airlatch_finish(airlatch_decoder* decoder) {
  return guarded(decoder, kOpen, [&] {
    decoder->session.finish();
    return AIRLATCH_OK;
  });
}

airlatch_status airlatch_report(airlatch_decoder* decoder, const void** report, size_t* size) {
  return guarded(decoder, kSound, [&] {
    need_place(report, size, "nowhere to put the report");
    if (!decoder->session.finished()) throw Refused{AIRLATCH_MISUSE, "the capture is not finished"};
    return hand_out(&decoder->session.report(), report, size);
  });
}

airlatch_status airlatch_dropped(const airlatch_decoder* decoder, int64_t* samples) {
  return guarded(decoder, kNothing, [&] {
    if (!samples) throw Refused{AIRLATCH_MISUSE, "nowhere to put the count"};
    *samples = decoder->session.dropped();
    return AIRLATCH_OK;
  });
}

airlatch_status airlatch_reset(airlatch_decoder* decoder) {
  return guarded(decoder, kNothing, [&] {
    decoder->session.start();
    decoder->broken = false;
    return AIRLATCH_OK;
  });
}

airlatch_status airlatch_destroy(airlatch_decoder* decoder) {
  if (!decoder) return AIRLATCH_OK;
  if (decoder->busy)
    return refuse(thread_error, AIRLATCH_MISUSE,
                  "a decoder cannot be destroyed from inside its own on_event");
  delete decoder;
  return AIRLATCH_OK;
}

const char* airlatch_last_error(const airlatch_decoder* decoder) {
  return decoder && !decoder->busy ? decoder->error.text() : thread_error.text();
}

}  // extern "C"
