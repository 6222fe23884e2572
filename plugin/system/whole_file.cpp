// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/system/whole_file.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <memory>

#include "plugin/system/file_uses.hpp"
#include "plugin/system/input_error.hpp"
#include "plugin/system/reader_gone.hpp"
#include "plugin/system/retried.hpp"
#include "plugin/system/write_all.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kBuffer = 1U << 16;
constexpr int kMostTries = 100;  // names of temporaries

int open_new(const std::string& path) {
  return retried([&] {
    return ::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, 0666);
  });
}

// Of data that must be there when the power fails; what cannot be told to keep them does not fail.
bool kept(int fd) {
  return retried([&] { return ::fsync(fd); }) == 0 || errno == EINVAL || errno == EROFS;
}

// An interrupted close has closed.
bool closed(int fd) { return ::close(fd) == 0 || errno == EINTR; }

[[noreturn]] void cannot_create(const std::string& path, const char* why) {
  throw InputError(ExitStatus::kCannotCreate, path, "", fmt::format("cannot be created ({})", why),
                   "name a place that can be written to");
}

}  // namespace

WholeFile::WholeFile(const std::string& path) : path_(path), target_(followed(path)) {
  struct stat about {};
  if (path == "-" || path == "/dev/stdout") {
    straight_ = true;
    path_ = "standard output";
    fd_ = retried([] { return ::fcntl(STDOUT_FILENO, F_DUPFD_CLOEXEC, 3); });
  } else if (::stat(path.c_str(), &about) != 0 && errno != ENOENT) {
    cannot_create(path, std::strerror(errno));
  } else if (S_ISDIR(about.st_mode)) {
    cannot_create(path, "it is a folder");
  } else if (about.st_mode != 0 && !S_ISREG(about.st_mode)) {
    straight_ = true;
    fd_ = retried([&] { return ::open(path.c_str(), O_WRONLY | O_CLOEXEC); });
  } else {
    make_temporary();
  }
  if (fd_ < 0) cannot_create(path_, std::strerror(errno));
}

// Beside its target. Never a file that is there: somebody else's, or what a killed run has left.
void WholeFile::make_temporary() {
  const std::string stem = fmt::format("{}.part-{}", target_, ::getpid());
  for (int k = 0; k < kMostTries; ++k) {
    temporary_ = k == 0 ? stem : fmt::format("{}-{}", stem, k);
    fd_ = open_new(temporary_);
    if (fd_ >= 0 || errno != EEXIST) break;
  }
  if (fd_ < 0) temporary_.clear();
}

WholeFile::~WholeFile() {
  const int error = errno;
  if (fd_ >= 0) ::close(fd_);
  if (!temporary_.empty()) ::unlink(temporary_.c_str());
  errno = error;
}

void WholeFile::fail(const char* what) const {
  if (straight_ && errno == EPIPE) throw ReaderGone();
  throw InputError(ExitStatus::kReadWriteFailed, path_, "",
                   fmt::format("{} ({})", what, std::strerror(errno)),
                   errno == ENOSPC || errno == EDQUOT ? "free some space or name another place"
                                                      : "check the disk or name another place");
}

void WholeFile::write(std::string_view text) {
  if (buffer_.size() + text.size() < kBuffer) {
    buffer_ += text;
    return;
  }
  if (!write_all(fd_, buffer_) || !write_all(fd_, text)) fail("could not be written");
  buffer_.clear();
}

const std::string& WholeFile::by_name() {
  by_name_ = true;
  if (!straight_) return temporary_;
  const char* const folder = std::getenv("TMPDIR");
  std::string pattern = fmt::format("{}/airlatch-part-XXXXXX", folder && *folder ? folder : "/tmp");
  const int fd = ::mkostemp(pattern.data(), O_CLOEXEC);
  if (fd < 0) cannot_create(pattern, std::strerror(errno));
  ::close(fd);
  temporary_ = pattern;
  return temporary_;
}

// What a library has made elsewhere, into what is no regular file.
void WholeFile::copy_straight() {
  const int from = retried([&] { return ::open(temporary_.c_str(), O_RDONLY | O_CLOEXEC); });
  if (from < 0) fail("could not be written");
  std::string piece(kBuffer, '\0');
  ssize_t got = 0;
  bool good = true;
  while (good && (got = retried([&] { return ::read(from, piece.data(), piece.size()); })) > 0)
    good = write_all(fd_, std::string_view(piece).substr(0, static_cast<std::size_t>(got)));
  const int error = errno;
  ::close(from);
  errno = error;
  if (!good || got < 0) fail("could not be written");
}

void WholeFile::finish() {
  if (!write_all(fd_, buffer_)) fail("could not be written");
  buffer_.clear();
  if (by_name_ && straight_) copy_straight();
  if (by_name_ && !straight_) {  // the library has perhaps put another file there
    ::close(fd_);
    fd_ = retried([&] { return ::open(temporary_.c_str(), O_RDONLY | O_CLOEXEC); });
    if (fd_ < 0) fail("could not be written");
  }
  if (!straight_ && !kept(fd_)) fail("could not be written");
  const bool sound = closed(fd_);
  fd_ = -1;
  if (!sound) fail("could not be written");
  state_ = State::kFinished;
}

void WholeFile::commit() {
  finish();
  if (!straight_) {
    if (retried([&] { return ::rename(temporary_.c_str(), target_.c_str()); }) != 0)
      fail("could not be put in its place");
    temporary_.clear();
  }
  state_ = State::kDone;
}

void WholeFile::put_in_place() {
  if (straight_) return;
  const auto renamed = [&](unsigned how) {
    return retried([&] {
             return ::renameat2(AT_FDCWD, temporary_.c_str(), AT_FDCWD, target_.c_str(), how);
           }) == 0;
  };
  // Exchanged, what was there before can come back.
  if (renamed(RENAME_EXCHANGE)) {
    state_ = State::kExchanged;
  } else if (errno == ENOENT && renamed(RENAME_NOREPLACE)) {
    state_ = State::kNew;
    temporary_.clear();
  } else if ((errno == EINVAL || errno == ENOSYS) && renamed(0)) {
    temporary_.clear();  // a file system that cannot do it
    state_ = State::kDone;
  } else {
    fail("could not be put in its place");
  }
}

void WholeFile::keep() noexcept { state_ = State::kDone; }

void WholeFile::take_back() noexcept {
  if (state_ == State::kNew) ::unlink(target_.c_str());
  if (state_ == State::kExchanged)
    ::renameat2(AT_FDCWD, temporary_.c_str(), AT_FDCWD, target_.c_str(), RENAME_EXCHANGE);
  state_ = State::kDone;
}

void write_together(const std::vector<std::pair<std::string, std::string>>& path_and_content) {
  std::vector<std::unique_ptr<WholeFile>> files;
  for (const auto& [path, content] : path_and_content) {
    files.push_back(std::make_unique<WholeFile>(path));
    files.back()->write(content);
  }
  for (const auto& file : files) file->finish();
  try {
    for (const auto& file : files) file->put_in_place();
  } catch (...) {
    for (const auto& file : files) file->take_back();
    throw;
  }
  for (const auto& file : files) file->keep();
}

}  // namespace airlatch
