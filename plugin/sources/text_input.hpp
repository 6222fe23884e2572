// SPDX-License-Identifier: GPL-3.0-or-later
// text_input.hpp: the bytes of a text file or pipe as UTF-8, whatever they were written in.
//
// In    plain text, or text packed by gzip; ASCII, UTF-8 with a byte order mark or without, UTF-16
//       of either byte order; lines that end in LF, CR LF, or CR alone.
// Out   the same text without a mark, CR alone as LF. Bytes that are no UTF-8 are handed out as they
//       are: one-byte text is told apart cell by cell (`as_utf8` of text_cells).
// How   by the first bytes, never by the name. Plain text is read straight to where it is wanted.
//       A file is read to where it ended when it was opened: one that grows meanwhile has an end.
#pragma once
#include <sys/types.h>

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "plugin/sources/gunzip.hpp"
#include "plugin/system/sha256.hpp"

namespace airlatch {

class TextInput {
 public:
  // "-" is stdin. Throws InputError.
  TextInput(const std::string& path, const std::string& name, bool hashed);
  ~TextInput();
  TextInput(const TextInput&) = delete;
  TextInput& operator=(const TextInput&) = delete;

  // Whether a file that begins so is text of two bytes a letter.
  static bool is_wide(std::string_view head) { return letters_of(head) != Letters::kBytes; }

  static constexpr int kDamaged = -1, kCut = -2;  // errors beside errno's: of what was packed
  struct Reading {
    ssize_t got = 0;  // 0: the end
    int error = 0;
  };
  Reading read(char* to, std::size_t room);
  [[nodiscard]] std::uint64_t size() const { return size_; }    // 0: a pipe
  [[nodiscard]] std::uint64_t taken() const { return taken_; }  // bytes of it
  [[nodiscard]] bool packed() const { return gunzip_.has_value(); }
  // Of all bytes of the file or pipe; empty: not asked for, or a pipe not read to its end.
  [[nodiscard]] std::string sha256();

 private:
  enum class Letters { kBytes, kLittle16, kBig16 };
  static Letters letters_of(std::string_view head);
  Reading read_raw(char* to, std::size_t room);
  Reading read_unpacked(char* to, std::size_t room);
  Reading read_letters(char* to, std::size_t room);
  Reading look();
  void tell_letters();
  std::size_t take_letters(char* to, std::size_t room);

  int file_ = -1;
  std::uint64_t size_ = 0, taken_ = 0;
  bool looked_ = false, at_end_ = false;
  std::optional<Sha256> digest_ = {};
  std::vector<char> raw_ = {}, wide_ = {};
  std::string_view raw_left_ = {}, wide_left_ = {};  // read, and not yet handed out
  std::string letter_ = {};                          // what of one there was no room for
  std::optional<Gunzip> gunzip_ = {};
  Letters letters_ = Letters::kBytes;
  std::optional<bool> bare_returns_ = {};  // lines end in CR alone; unknown before the first text
};

}  // namespace airlatch
