// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/system/input_file.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <new>
#include <vector>

#include "plugin/system/input_error.hpp"
#include "plugin/system/retried.hpp"
#include "plugin/system/sha256.hpp"

namespace airlatch {
namespace {

// A place in the file, of a stream.
struct Cursor {
  const InputFile* file;
  std::uint64_t at = 0;
};

ssize_t read_cursor(void* cookie, char* to, std::size_t bytes) {
  auto& cursor = *static_cast<Cursor*>(cookie);
  errno = 0;
  const std::size_t got = cursor.file->read_at(to, bytes, cursor.at);
  cursor.at += got;
  return got == 0 && errno != 0 ? -1 : static_cast<ssize_t>(got);
}

int seek_cursor(void* cookie, off64_t* place, int from) {
  auto& cursor = *static_cast<Cursor*>(cookie);
  const std::int64_t base = from == SEEK_SET   ? 0
                            : from == SEEK_CUR ? static_cast<std::int64_t>(cursor.at)
                                               : static_cast<std::int64_t>(cursor.file->size());
  std::int64_t to = 0;
  if (__builtin_add_overflow(base, *place, &to) || to < 0) {
    errno = EINVAL;
    return -1;
  }
  cursor.at = static_cast<std::uint64_t>(to);
  *place = to;
  return 0;
}

int close_cursor(void* cookie) {
  delete static_cast<Cursor*>(cookie);
  return 0;
}

}  // namespace

InputFile::InputFile(const std::string& path) : path_(path) {
  fd_ = retried([&] { return ::open(path.c_str(), O_RDONLY | O_CLOEXEC); });
  struct stat about {};
  if (fd_ < 0 || ::fstat(fd_, &about) != 0) {
    const int error = errno;
    if (fd_ >= 0) ::close(fd_);
    throw InputError(
        error == ENOENT || error == ENOTDIR ? ExitStatus::kNotFound : ExitStatus::kReadWriteFailed,
        path, "", std::strerror(error), "check the name and that you may read it");
  }
  size_ = static_cast<std::uint64_t>(about.st_size);
  changed_s_ = about.st_mtim.tv_sec;
  changed_ns_ = about.st_mtim.tv_nsec;
}

InputFile::~InputFile() { ::close(fd_); }

std::size_t InputFile::read_at(void* to, std::size_t bytes, std::uint64_t at) const {
  std::size_t filled = 0;
  while (filled < bytes) {
    const ssize_t got = retried([&] {
      return ::pread(fd_, static_cast<char*>(to) + filled, bytes - filled,
                     static_cast<off_t>(at + filled));
    });
    if (got < 0) error_ = errno;
    if (got <= 0) break;
    filled += static_cast<std::size_t>(got);
  }
  return filled;
}

InputFile::Stream InputFile::stream() const {
  auto cursor = std::make_unique<Cursor>(Cursor{this});
  std::FILE* const opened = ::fopencookie(
      cursor.get(), "rb",
      {.read = read_cursor, .write = nullptr, .seek = seek_cursor, .close = close_cursor});
  if (!opened) throw std::bad_alloc();
  static_cast<void>(cursor.release());  // the stream's
  return Stream(opened);
}

void InputFile::fail(int error) const {
  throw InputError(ExitStatus::kReadWriteFailed, path_, "", std::strerror(error),
                   "check the disk, and copy the file from where it was recorded");
}

void InputFile::check() const {
  if (const int error = error_; error != 0) fail(error);
}

std::string InputFile::sha256() const {
  Sha256 digest;
  std::vector<char> piece(std::clamp<std::size_t>(size_, 1, 1 << 18));
  std::uint64_t at = 0;
  while (const std::size_t got = read_at(piece.data(), piece.size(), at)) {
    digest.add({piece.data(), got});
    at += got;
  }
  check();
  struct stat now {};
  if (::fstat(fd_, &now) != 0) fail(errno);
  if (at != size_ || now.st_mtim.tv_sec != changed_s_ || now.st_mtim.tv_nsec != changed_ns_)
    throw InputError(ExitStatus::kReadWriteFailed, path_, "", "it changed while it was read",
                     "wait until it is written, and try again");
  return digest.hex();
}

}  // namespace airlatch
