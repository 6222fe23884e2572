// SPDX-License-Identifier: GPL-3.0-or-later
// gunzip.hpp: gzip (RFC 1952) unpacked as it is read, in constant memory.
//
// In    the bytes of a gzip file, in pieces of any size; several members behind each other are one
//       text, as the format has it.
// Out   the bytes that were packed. Their CRC and length are checked at each member's end.
// Cost  40 KiB and zlib's inflate.
#pragma once
#include <cstddef>
#include <memory>
#include <string_view>

namespace airlatch {

class Gunzip {
 public:
  static bool is_gzip(std::string_view head) { return head.starts_with("\x1f\x8b\x08"); }
  Gunzip();
  ~Gunzip();
  Gunzip(const Gunzip&) = delete;
  Gunzip& operator=(const Gunzip&) = delete;
  // Takes packed bytes off the front of `packed` and writes at most `room` unpacked ones. Fewer:
  // `packed` is used up, or this is the end, or the bytes are damaged.
  std::size_t unpack(std::string_view& packed, char* to, std::size_t room);
  [[nodiscard]] bool damaged() const { return damaged_; }
  // Whether a member is complete here: a file that ends elsewhere is cut short.
  [[nodiscard]] bool whole() const { return whole_; }

 private:
  struct State;
  std::unique_ptr<State> state_;
  bool damaged_ = false, whole_ = false;
};

}  // namespace airlatch
