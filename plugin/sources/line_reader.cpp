// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/line_reader.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>

#include "plugin/sources/plain_rows.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {
constexpr std::size_t kRead = 1U << 21;
constexpr std::size_t kHead = 1U << 12;  // for the row that a reading cuts
}  // namespace

LineReader::LineReader(const std::string& path)
    : path_(path),
      name_(path == "-" ? "standard input" : path),
      from_(kTextSlack),
      to_(kTextSlack) {
  file_ = path == "-" ? STDIN_FILENO : ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  if (file_ < 0)
    throw InputError(errno == ENOENT ? ExitStatus::kNotFound : ExitStatus::kReadWriteFailed, name_,
                     "", std::strerror(errno), "check the name and that you may read it");
  struct stat about {};
  if (::fstat(file_, &about) == 0 && S_ISREG(about.st_mode))
    size_ = static_cast<std::uint64_t>(about.st_size);
  // A small file is here at one reading, and its end is seen at the next.
  const std::uint64_t room = size_ > 0 ? std::min<std::uint64_t>(size_ + 1, kRead) : kRead / 16;
  buffer_.resize(static_cast<std::size_t>(room) + 2 * kTextSlack);
}

LineReader::~LineReader() {
  if (file_ > STDIN_FILENO) ::close(file_);
}

double LineReader::progress() const {
  return size_ > 0 ? static_cast<double>(read_ - (to_ - from_)) / static_cast<double>(size_) : -1;
}

bool LineReader::buffered() const {
  return std::memchr(buffer_.data() + from_, '\n', to_ - from_) != nullptr;
}

LineReader::Reading LineReader::read_into(char* to, std::size_t room) {
  Reading reading;
  if (regular()) room = static_cast<std::size_t>(std::min<std::uint64_t>(room, size_ - taken_));
  do {
    reading.got = ::read(file_, to, room);
    reading.error = errno;
  } while (reading.got < 0 && reading.error == EINTR);
  taken_ += static_cast<std::uint64_t>(std::max<ssize_t>(reading.got, 0));
  return reading;
}

void LineReader::read_on() {
  if (read_on_ || at_end_ || !regular()) return;
  next_.resize(kHead + kRead + kTextSlack);
  read_on_ = read_into(next_.data() + kHead, kRead);
}

// What is left of the buffer goes before what was read on, and that is the buffer from now on.
LineReader::Reading LineReader::take_read_on() {
  const Reading reading = *read_on_;
  read_on_.reset();
  const std::size_t left = to_ - from_,
                    got = static_cast<std::size_t>(std::max<ssize_t>(reading.got, 0));
  if (left > kHead - kTextSlack) next_.insert(next_.begin(), left, '\0');
  const std::size_t start = next_.size() - kRead - kTextSlack;
  std::memcpy(next_.data() + start - left, buffer_.data() + from_, left);
  buffer_.swap(next_);
  from_ = start - left;
  to_ = start + got;
  return reading;
}

LineReader::Reading LineReader::read_here() {
  if (from_ > kTextSlack) {
    std::memmove(buffer_.data() + kTextSlack, buffer_.data() + from_, to_ - from_);
    to_ -= from_ - kTextSlack;
    from_ = kTextSlack;
  }
  if (to_ == room_ends()) {
    if (buffer_.size() > kLongest)
      throw InputError(ExitStatus::kUnusableData, name_, fmt::format("line {}", number_ + 1),
                       "the line is longer than 1 MiB", "this is not a table of samples");
    buffer_.resize(buffer_.size() * 2);
  }
  const Reading reading = read_into(buffer_.data() + to_, room_ends() - to_);
  to_ += static_cast<std::size_t>(std::max<ssize_t>(reading.got, 0));
  return reading;
}

bool LineReader::fill() {
  if (at_end_) return false;
  const Reading reading = read_on_ ? take_read_on() : read_here();
  if (reading.got < 0)
    throw InputError(
        reading.error == EISDIR ? ExitStatus::kUnusableData : ExitStatus::kReadWriteFailed, name_,
        fmt::format("line {}", number_ + 1), std::strerror(reading.error),
        reading.error == EISDIR ? "name a file" : "check the disk or the pipe");
  if (reading.got == 0) at_end_ = true;
  read_ += static_cast<std::uint64_t>(reading.got);
  return reading.got > 0;
}

std::size_t LineReader::room_ends() const { return buffer_.size() - kTextSlack; }

std::string_view LineReader::ahead() {
  const auto last_end = [&]() -> const void* {
    return ::memrchr(buffer_.data() + from_, '\n', to_ - from_);
  };
  const void* end = last_end();
  while (!end && regular() && fill()) end = last_end();
  if (!end) return {};
  const char* from = buffer_.data() + from_;
  return {from, static_cast<std::size_t>(static_cast<const char*>(end) + 1 - from)};
}

void LineReader::skip(std::size_t bytes, std::size_t lines) {
  from_ += bytes;
  number_ += lines;
}

bool LineReader::next(std::string_view& line) {
  std::size_t searched = 0;
  while (true) {
    const char* start = buffer_.data() + from_;
    const auto* end =
        static_cast<const char*>(std::memchr(start + searched, '\n', to_ - from_ - searched));
    if (end) {
      line = {start, static_cast<std::size_t>(end - start)};
      from_ += line.size() + 1;
      break;
    }
    searched = to_ - from_;
    if (fill()) continue;
    if (from_ == to_) return false;
    line = {buffer_.data() + from_, to_ - from_};
    from_ = to_;
    ended_open_ = true;
    break;
  }
  if (!line.empty() && line.back() == '\r') line.remove_suffix(1);
  if (number_ == 0 && line.starts_with("\xef\xbb\xbf")) line.remove_prefix(3);  // byte order mark
  ++number_;
  return true;
}

}  // namespace airlatch
