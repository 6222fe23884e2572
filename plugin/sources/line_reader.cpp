#include "plugin/sources/line_reader.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>

#include "plugin/sources/input_error.hpp"

namespace airlatch {
namespace {
constexpr std::size_t kRead = 1U << 18;
}

LineReader::LineReader(const std::string& path)
    : path_(path), name_(path == "-" ? "standard input" : path) {
  file_ = path == "-" ? STDIN_FILENO : ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  if (file_ < 0)
    throw InputError(errno == ENOENT ? ExitStatus::kNotFound : ExitStatus::kReadWriteFailed, name_,
                     "", std::strerror(errno), "check the name and that you may read it");
  struct stat about {};
  if (::fstat(file_, &about) == 0 && S_ISREG(about.st_mode))
    size_ = static_cast<std::uint64_t>(about.st_size);
  buffer_.resize(kRead + kBehind);
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

bool LineReader::fill() {
  if (at_end_) return false;
  if (from_ > 0) {
    std::memmove(buffer_.data(), buffer_.data() + from_, to_ - from_);
    to_ -= from_;
    from_ = 0;
  }
  if (to_ + kBehind == buffer_.size()) {
    if (buffer_.size() > kLongest)
      throw InputError(ExitStatus::kUnusableData, name_, fmt::format("line {}", number_ + 1),
                       "the line is longer than 1 MiB", "this is no table of samples");
    buffer_.resize(buffer_.size() * 2);
  }
  ssize_t got;
  do {
    got = ::read(file_, buffer_.data() + to_, buffer_.size() - kBehind - to_);
  } while (got < 0 && errno == EINTR);
  if (got < 0)
    throw InputError(errno == EISDIR ? ExitStatus::kUnusableData : ExitStatus::kReadWriteFailed,
                     name_, fmt::format("line {}", number_ + 1), std::strerror(errno),
                     errno == EISDIR ? "name a file" : "check the disk or the pipe");
  if (got == 0) at_end_ = true;
  to_ += static_cast<std::size_t>(got);
  read_ += static_cast<std::uint64_t>(got);
  return got > 0;
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
