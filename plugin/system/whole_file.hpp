// SPDX-License-Identifier: GPL-3.0-or-later
// whole_file.hpp: a file that appears complete or not at all.
//
// Written beside its final place (that of its target where it is a link) and renamed by `commit`;
// without it the temporary is removed. What is no regular file (a device, a pipe, "-": standard
// output) is written straight, and never renamed over.
// Throws InputError (kCannotCreate, kReadWriteFailed), or ReaderGone where a pipe's has.
#pragma once
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace airlatch {

class WholeFile {
 public:
  explicit WholeFile(const std::string& path);
  ~WholeFile();
  WholeFile(const WholeFile&) = delete;
  WholeFile& operator=(const WholeFile&) = delete;
  void write(std::string_view text);
  // For a library that can write to a file's name only: where it shall make it, instead of `write`.
  const std::string& by_name();
  void commit();

  // `commit` in two steps, for files that belong together.
  void finish();        // all is written, but not in its place
  void put_in_place();  // to be followed by one of the next two
  void keep() noexcept;
  void take_back() noexcept;  // what was in its place before is there again

 private:
  enum class State { kOpen, kFinished, kNew, kExchanged, kDone };
  void make_temporary();
  void copy_straight();
  [[noreturn]] void fail(const char* what) const;
  std::string path_, target_, temporary_;
  bool straight_ = false, by_name_ = false;
  int fd_ = -1;
  State state_ = State::kOpen;
  std::string buffer_;
};

// Files that belong together: all are put in their places, or none.
void write_together(const std::vector<std::pair<std::string, std::string>>& path_and_content);

}  // namespace airlatch
