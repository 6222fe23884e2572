// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/host/output.hpp"

#include <cerrno>
#include <cstring>

#include "plugin/system/input_error.hpp"

namespace airlatch {

Output::Output(const std::string& path) : name_(path == "-" ? "standard output" : path) {
  file_ = path == "-" ? stdout : std::fopen(path.c_str(), "wb");
  if (!file_)
    throw InputError(ExitStatus::kCannotCreate, name_, "", std::strerror(errno),
                     "name a place that can be written to");
}

Output::~Output() {
  if (file_ && file_ != stdout) std::fclose(file_);
}

void Output::fail() {
  if (errno == EPIPE) throw ReaderGone();
  throw InputError(ExitStatus::kReadWriteFailed, name_, "", std::strerror(errno),
                   "free some space or name another place");
}

void Output::write(std::string_view text) {
  if (std::fwrite(text.data(), 1, text.size(), file_) != text.size() || std::fflush(file_) != 0)
    fail();
}

void Output::close() {
  if (!file_ || file_ == stdout) return;
  std::FILE* file = file_;
  file_ = nullptr;
  if (std::fclose(file) != 0) fail();
}

}  // namespace airlatch
