// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/system/file_uses.hpp"

#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <system_error>

#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {
namespace fs = std::filesystem;

// A file that is there by its number on its device; one that is not by its folder's and its name.
struct Place {
  bool there = false;
  mode_t mode = 0;
  dev_t device = 0;
  ino_t number = 0;
  std::string name = {};
};

Place place_of(const std::string& path, int standard) {
  struct stat about {};
  const bool there =
      path == "-" ? ::fstat(standard, &about) == 0 : ::stat(path.c_str(), &about) == 0;
  if (there) return {true, about.st_mode, about.st_dev, about.st_ino, {}};
  if (errno == EIO || errno == ENOMEM)  // it may be there
    throw InputError(ExitStatus::kReadWriteFailed, path, "", std::strerror(errno),
                     "check the disk");
  const fs::path target = followed(path);
  const std::string folder = target.has_parent_path() ? target.parent_path().string() : ".";
  if (::stat(folder.c_str(), &about) == 0)
    return {false, 0, about.st_dev, about.st_ino, target.filename().string()};
  std::error_code ignored;
  return {false, 0, 0, 0, fs::absolute(target, ignored).lexically_normal().string()};
}

bool same(const Place& a, const Place& b) {
  return a.there == b.there && a.device == b.device && a.number == b.number && a.name == b.name;
}

// What is written to a terminal or /dev/null is nothing that is read from it, and a folder is not
// written to.
bool keeps_what_is_written(const Place& place) {
  return !S_ISCHR(place.mode) && !S_ISDIR(place.mode);
}

// Two may write to one pipe or device; in a file they overwrite each other.
bool is_or_becomes_regular(const Place& place) { return !place.there || S_ISREG(place.mode); }

std::string shown(const std::string& path, const char* standard) {
  return path == "-" ? standard : path;
}

}  // namespace

std::string followed(const std::string& path) {
  constexpr int kMostLinks = 40;  // as many as the system follows
  fs::path at = path;
  std::error_code error;
  for (int k = 0; k < kMostLinks; ++k) {
    const fs::path to = fs::read_symlink(at, error);
    if (error) break;
    at = to.is_absolute() ? to : at.parent_path() / to;
  }
  return at.string();
}

void FileUses::reads(const std::string& what, const std::string& path) {
  if (!path.empty()) inputs_.push_back({what, path});
}

void FileUses::writes(const std::string& what, const std::string& path) {
  if (!path.empty()) outputs_.push_back({what, path});
}

void FileUses::writes_standard_output() {
  const bool named =
      std::any_of(outputs_.begin(), outputs_.end(), [](const Use& use) { return use.path == "-"; });
  if (!named) writes("", "-");
}

void FileUses::check() const {
  std::vector<Place> read, written;
  for (const Use& input : inputs_) read.push_back(place_of(input.path, STDIN_FILENO));
  for (std::size_t k = 0; k < outputs_.size(); ++k) {
    const Use& output = outputs_[k];
    const std::string name = shown(output.path, "standard output");
    const Place place = place_of(output.path, STDOUT_FILENO);
    for (std::size_t i = 0; i < inputs_.size(); ++i)
      if (keeps_what_is_written(place) && same(place, read[i]))
        throw InputError(ExitStatus::kCannotCreate, name, output.what,
                         fmt::format("this is the file {}, which is read ({})",
                                     shown(inputs_[i].path, "standard input"), inputs_[i].what),
                         "name another file to write to");
    for (std::size_t other = 0; other < k; ++other)
      if (is_or_becomes_regular(place) && same(place, written[other]))
        throw InputError(
            ExitStatus::kCannotCreate, name, output.what,
            fmt::format("this is the file {}, which is written, too ({})",
                        shown(outputs_[other].path, "standard output"), outputs_[other].what),
            "name another file to write to");
    written.push_back(place);
  }
}

}  // namespace airlatch
