// SPDX-License-Identifier: GPL-3.0-or-later
// line_reader.hpp: a text file or pipe line by line, in constant memory.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "plugin/sources/text_input.hpp"

namespace airlatch {

class LineReader {
 public:
  static constexpr std::size_t kLongest = 1U << 20;  // bytes of a line
  // "-" is stdin. Throws InputError.
  explicit LineReader(const std::string& path, bool hashed = false);
  LineReader(const LineReader&) = delete;
  LineReader& operator=(const LineReader&) = delete;

  // The next line without its end (LF or CRLF); valid until the next call. False at the end.
  bool next(std::string_view& line);
  // Whole lines that come next, with their ends, as far as they are here; a file is read on until
  // there is one. kTextSlack bytes before and behind may be read, whatever they are. Valid until
  // the next call.
  std::string_view ahead();
  // Reads on in a file, to where it is in nobody's way: another thread may do it while what
  // ahead() gave is worked on, and nothing else is called.
  void read_on();
  void skip(std::size_t bytes, std::size_t lines);                // of them
  [[nodiscard]] std::uint64_t number() const { return number_; }  // of the last line, from 1
  [[nodiscard]] bool ended_open() const { return ended_open_; }  // it had no line end: the last one
  [[nodiscard]] bool buffered() const;  // another whole line is here without waiting
  [[nodiscard]] bool regular() const { return input_.size() > 0; }
  // What was read and not handed out yet. To read on, which waits for a pipe: false at the end.
  [[nodiscard]] std::string_view here() const;
  bool fill();
  [[nodiscard]] double progress() const;  // negative for a pipe
  // Of all bytes, where they were to be hashed; a file is read to its end for it. Empty for a pipe
  // that was not.
  [[nodiscard]] std::string sha256() { return input_.sha256(); }
  [[nodiscard]] const std::string& name() const { return name_; }

 private:
  using Reading = TextInput::Reading;
  [[noreturn]] void fail(int error) const;
  Reading read_here();
  Reading take_read_on();
  [[nodiscard]] std::size_t room_ends() const;
  std::string name_;
  TextInput input_;
  std::vector<char> buffer_;
  std::size_t from_, to_;        // what is here and not yet handed out
  std::vector<char> next_ = {};  // what was read on, behind room for what is left of buffer_
  std::optional<Reading> read_on_ = {};
  std::uint64_t number_ = 0, read_ = 0;
  bool at_end_ = false, ended_open_ = false;
};

}  // namespace airlatch
