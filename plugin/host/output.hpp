// SPDX-License-Identifier: GPL-3.0-or-later
// output.hpp: what goes to stdout or an event file, with every failed write reported.
//
// How   unbuffered, so that whoever follows it sees each line at once. A file keeps whole writes:
//       of one that failed nothing stays.
#pragma once
#include <cstdint>
#include <string>
#include <string_view>

#include "plugin/system/reader_gone.hpp"

namespace airlatch {

class Output {
 public:
  // "-" is stdout. Throws InputError (kCannotCreate).
  explicit Output(const std::string& path);
  ~Output();
  Output(const Output&) = delete;
  Output& operator=(const Output&) = delete;
  // Throws ReaderGone, or InputError (kReadWriteFailed).
  void write(std::string_view text);
  void close();
  [[nodiscard]] int fd() const { return fd_; }

 private:
  [[noreturn]] void fail() const;
  std::string name_;
  int fd_ = -1;
  bool file_ = false;         // what was written to it can be taken back
  std::int64_t written_ = 0;  // bytes of it
};

}  // namespace airlatch
