// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/system/whole_file.hpp"

#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

#include "plugin/system/input_error.hpp"

namespace airlatch {

WholeFile::WholeFile(std::string path) : path_(std::move(path)) {
  struct stat about {};
  // A device or pipe cannot be renamed over: it is written straight.
  const bool special = ::stat(path_.c_str(), &about) == 0 && !S_ISREG(about.st_mode);
  temporary_ = special ? path_ : fmt::format("{}.part-{}", path_, ::getpid());
  file_ = S_ISDIR(about.st_mode) ? nullptr : std::fopen(temporary_.c_str(), "wb");
  if (!file_)
    throw InputError(ExitStatus::kCannotCreate, path_, "",
                     fmt::format("cannot be created ({})",
                                 S_ISDIR(about.st_mode) ? "it is a folder" : std::strerror(errno)),
                     "name a place that can be written to");
}

WholeFile::~WholeFile() {
  if (file_) std::fclose(file_);
  if (!temporary_.empty() && temporary_ != path_) ::unlink(temporary_.c_str());
}

void WholeFile::fail(const char* what) {
  throw InputError(ExitStatus::kReadWriteFailed, path_, "",
                   fmt::format("{} ({})", what, std::strerror(errno)),
                   "free some space or name another place");
}

void WholeFile::write(std::string_view text) {
  if (std::fwrite(text.data(), 1, text.size(), file_) != text.size()) fail("could not be written");
}

void WholeFile::commit() {
  if (std::fflush(file_) != 0) fail("could not be written");
  if (temporary_ != path_ && ::fsync(::fileno(file_)) != 0) fail("could not be written");
  const bool closed = std::fclose(file_) == 0;
  file_ = nullptr;
  if (!closed) fail("could not be written");
  if (temporary_ != path_ && ::rename(temporary_.c_str(), path_.c_str()) != 0)
    fail("could not be put in its place");
  temporary_.clear();
}

}  // namespace airlatch
