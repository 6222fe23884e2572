// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/host/output.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

#include "plugin/system/input_error.hpp"
#include "plugin/system/retried.hpp"
#include "plugin/system/write_all.hpp"

namespace airlatch {

Output::Output(const std::string& path) : name_(path == "-" ? "standard output" : path) {
  if (path == "-") {
    fd_ = STDOUT_FILENO;
    return;
  }
  fd_ =
      retried([&] { return ::open(path.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666); });
  if (fd_ < 0)
    throw InputError(ExitStatus::kCannotCreate, name_, "", std::strerror(errno),
                     "name a place that can be written to");
  struct stat about {};
  file_ = ::fstat(fd_, &about) == 0 && S_ISREG(about.st_mode);
}

Output::~Output() {
  if (fd_ > STDOUT_FILENO) ::close(fd_);
}

void Output::fail() const {
  if (errno == EPIPE) throw ReaderGone();
  throw InputError(ExitStatus::kReadWriteFailed, name_, "", std::strerror(errno),
                   "free some space or name another place");
}

void Output::write(std::string_view text) {
  if (!write_all(fd_, text)) {
    const int error = errno;
    if (file_) static_cast<void>(retried([&] { return ::ftruncate(fd_, written_); }));
    errno = error;
    fail();
  }
  written_ += static_cast<std::int64_t>(text.size());
}

void Output::close() {
  if (fd_ <= STDOUT_FILENO) return;
  const int fd = fd_;
  fd_ = -1;
  if (::close(fd) != 0 && errno != EINTR) fail();
}

}  // namespace airlatch
