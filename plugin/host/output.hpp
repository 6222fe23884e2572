// SPDX-License-Identifier: GPL-3.0-or-later
// output.hpp: what goes to stdout or an event file, with every failed write reported.
#pragma once
#include <cstdio>
#include <stdexcept>
#include <string>
#include <string_view>

namespace airlatch {

// The reader of our output has gone (`| head -1`): the work ends quietly.
struct ReaderGone : std::runtime_error {
  ReaderGone() : std::runtime_error("the reader of the output has gone") {}
};

class Output {
 public:
  // "-" is stdout. Throws InputError (kCannotCreate).
  explicit Output(const std::string& path);
  ~Output();
  Output(const Output&) = delete;
  Output& operator=(const Output&) = delete;
  // Writes and flushes. Throws ReaderGone, or InputError (kReadWriteFailed).
  void write(std::string_view text);
  void close();
  [[nodiscard]] int fd() const { return ::fileno(file_); }

 private:
  [[noreturn]] void fail();
  std::string name_;
  std::FILE* file_ = nullptr;
};

}  // namespace airlatch
