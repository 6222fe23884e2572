// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/sources/line_reader.hpp"

#include <fmt/format.h>

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

LineReader::LineReader(const std::string& path, bool hashed)
    : name_(path == "-" ? "standard input" : path),
      input_(path, name_, hashed),
      from_(kTextSlack),
      to_(kTextSlack) {
  // A small file is here at one reading, and its end is seen at the next.
  const std::uint64_t size = input_.size();
  const std::uint64_t room = size > 0 ? std::min<std::uint64_t>(size + 1, kRead) : kRead / 16;
  buffer_.resize(static_cast<std::size_t>(room) + 2 * kTextSlack);
}

double LineReader::progress() const {
  if (!regular()) return -1;
  // Of packed text, what is here and not handed out yet is as nothing.
  const std::uint64_t done = input_.packed() ? input_.taken() : read_ - (to_ - from_);
  return std::min(1.0, static_cast<double>(done) / static_cast<double>(input_.size()));
}

bool LineReader::buffered() const {
  return std::memchr(buffer_.data() + from_, '\n', to_ - from_) != nullptr;
}

void LineReader::read_on() {
  if (read_on_ || at_end_ || !regular()) return;
  next_.resize(kHead + kRead + kTextSlack);
  read_on_ = input_.read(next_.data() + kHead, kRead);
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
  const Reading reading = input_.read(buffer_.data() + to_, room_ends() - to_);
  to_ += static_cast<std::size_t>(std::max<ssize_t>(reading.got, 0));
  return reading;
}

bool LineReader::fill() {
  if (at_end_) return false;
  const Reading reading = read_on_ ? take_read_on() : read_here();
  if (reading.got < 0) fail(reading.error);
  if (reading.got == 0) at_end_ = true;
  read_ += static_cast<std::uint64_t>(reading.got);
  return reading.got > 0;
}

void LineReader::fail(int error) const {
  const auto refusal = [&](ExitStatus status, const char* what, const char* mend) {
    return InputError(status, name_, fmt::format("line {}", number_ + 1), what, mend);
  };
  constexpr auto kData = ExitStatus::kUnusableData;
  if (error == TextInput::kCut)
    throw refusal(kData, "what gzip packed is cut short here", "copy the file again");
  if (error == TextInput::kDamaged)
    throw refusal(kData, "what gzip packed is damaged here", "copy the file again");
  if (error == EISDIR) throw refusal(kData, std::strerror(error), "name a file");
  throw refusal(ExitStatus::kReadWriteFailed, std::strerror(error), "check the disk or the pipe");
}

std::string_view LineReader::here() const { return {buffer_.data() + from_, to_ - from_}; }

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
  ++number_;
  return true;
}

}  // namespace airlatch
