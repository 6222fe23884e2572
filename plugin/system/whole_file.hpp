// SPDX-License-Identifier: GPL-3.0-or-later
// whole_file.hpp: a file that appears complete or not at all.
//
// Written beside its final place and renamed by `commit`; without it the temporary is removed.
// Throws InputError: kCannotCreate, kReadWriteFailed.
#pragma once
#include <cstdio>
#include <string>
#include <string_view>

namespace airlatch {

class WholeFile {
 public:
  explicit WholeFile(std::string path);
  ~WholeFile();
  WholeFile(const WholeFile&) = delete;
  WholeFile& operator=(const WholeFile&) = delete;
  void write(std::string_view text);
  void commit();

 private:
  [[noreturn]] void fail(const char* what);
  std::string path_, temporary_;
  std::FILE* file_ = nullptr;
};

}  // namespace airlatch
