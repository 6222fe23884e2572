// SPDX-License-Identifier: GPL-3.0-or-later
// input_file.hpp: a file that is read in any order, opened once.
//
// In    a regular file's name.
// Out   its bytes, to our readers and to the libraries that read containers; its SHA-256.
// How   all reading goes through one descriptor, and a reading that failed is remembered: what a
//       container's reader takes for the end of its data is told from it by `check`.
#pragma once
#include <atomic>
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <memory>
#include <string>

namespace airlatch {

class InputFile {
 public:
  // Throws InputError (kNotFound, kReadWriteFailed, kUnusableData: a folder).
  explicit InputFile(const std::string& path);
  ~InputFile();
  InputFile(const InputFile&) = delete;
  InputFile& operator=(const InputFile&) = delete;
  [[nodiscard]] const std::string& path() const { return path_; }
  [[nodiscard]] std::uint64_t size() const { return size_; }
  // Fewer bytes than asked for only at the end, or where reading failed.
  std::size_t read_at(void* to, std::size_t bytes, std::uint64_t at) const;
  // For code that reads streams: one with a position of its own, not to outlive this.
  struct Closed {
    void operator()(std::FILE* file) const { std::fclose(file); }
  };
  using Stream = std::unique_ptr<std::FILE, Closed>;
  [[nodiscard]] Stream stream() const;
  // Throws InputError (kReadWriteFailed) where a reading failed.
  void check() const;
  // Of all its bytes. Throws InputError where they cannot be read, or are no longer those that were
  // there when it was opened.
  [[nodiscard]] std::string sha256() const;

 private:
  [[noreturn]] void fail(int error) const;
  std::string path_;
  int fd_ = -1;
  std::uint64_t size_ = 0;
  std::int64_t changed_s_ = 0, changed_ns_ = 0;  // when it was last written to
  mutable std::atomic<int> error_{0};
};

}  // namespace airlatch
