// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/gunzip.hpp"

#include <zlib.h>

#include <algorithm>
#include <limits>
#include <new>

namespace airlatch {

struct Gunzip::State {
  z_stream stream = {};
};

namespace {
constexpr int kGzipOnly = 16 + MAX_WBITS;
uInt as_count(std::size_t bytes) {
  return static_cast<uInt>(std::min<std::size_t>(bytes, std::numeric_limits<uInt>::max()));
}
}  // namespace

Gunzip::Gunzip() : state_(std::make_unique<State>()) {
  if (inflateInit2(&state_->stream, kGzipOnly) != Z_OK) throw std::bad_alloc();
}

Gunzip::~Gunzip() { inflateEnd(&state_->stream); }

std::size_t Gunzip::unpack(std::string_view& packed, char* to, std::size_t room) {
  std::size_t written = 0;
  z_stream& stream = state_->stream;
  while (written < room && !packed.empty() && !damaged_) {
    if (whole_) {  // what follows a member is the next, or padding that some tapes and tools leave
      packed.remove_prefix(std::min(packed.find_first_not_of('\0'), packed.size()));
      if (packed.empty()) break;
      inflateReset(&stream);
      whole_ = false;
    }
    const uInt in = as_count(packed.size()), out = as_count(room - written);
    // zlib does not write to its input.
    stream.next_in = reinterpret_cast<Bytef*>(const_cast<char*>(packed.data()));
    stream.avail_in = in;
    stream.next_out = reinterpret_cast<Bytef*>(to + written);
    stream.avail_out = out;
    const int result = inflate(&stream, Z_NO_FLUSH);
    packed.remove_prefix(in - stream.avail_in);
    written += out - stream.avail_out;
    whole_ = result == Z_STREAM_END;
    damaged_ = !whole_ && result != Z_OK && result != Z_BUF_ERROR;
  }
  return written;
}

}  // namespace airlatch
