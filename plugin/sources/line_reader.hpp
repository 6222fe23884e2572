// line_reader.hpp: a text file or pipe line by line, in constant memory.
#pragma once
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace airlatch {

class LineReader {
 public:
  static constexpr std::size_t kLongest = 1U << 20;  // bytes of a line
  // "-" is stdin. Throws InputError.
  explicit LineReader(const std::string& path);
  ~LineReader();
  LineReader(const LineReader&) = delete;
  LineReader& operator=(const LineReader&) = delete;

  static constexpr std::size_t kBehind =
      8;  // bytes behind a line that may be read, whatever they are
  // The next line without its end (LF or CRLF); valid until the next call. False at the end.
  bool next(std::string_view& line);
  [[nodiscard]] std::uint64_t number() const { return number_; }  // of the last line, from 1
  [[nodiscard]] bool ended_open() const { return ended_open_; }  // it had no line end: the last one
  [[nodiscard]] bool buffered() const;  // another whole line is here without waiting
  [[nodiscard]] bool regular() const { return size_ > 0; }
  [[nodiscard]] double progress() const;  // negative for a pipe
  [[nodiscard]] const std::string& name() const { return name_; }

 private:
  bool fill();
  std::string path_, name_;
  int file_ = -1;
  std::vector<char> buffer_;
  std::size_t from_ = 0, to_ = 0;
  std::uint64_t number_ = 0, read_ = 0, size_ = 0;
  bool at_end_ = false, ended_open_ = false;
};

}  // namespace airlatch
