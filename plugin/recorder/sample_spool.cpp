// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/recorder/sample_spool.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <string>

#include "plugin/system/input_error.hpp"
#include "plugin/system/retried.hpp"
#include "plugin/system/write_all.hpp"

namespace airlatch {
namespace {

std::string folder() {
  const char* const named = std::getenv("TMPDIR");
  return named && *named ? named : "/tmp";
}

[[noreturn]] void fail() {
  throw InputError(ExitStatus::kReadWriteFailed, folder(), "",
                   std::string("a temporary file cannot be written (") + std::strerror(errno) + ")",
                   "free some space there, or name another folder in TMPDIR");
}

}  // namespace

SampleSpool::SampleSpool(std::size_t channels) : channels_(channels) {
  std::string name = folder() + "/airlatch-spool-XXXXXX";
  fd_ = retried([&] { return ::mkostemp(name.data(), O_CLOEXEC); });
  if (fd_ < 0) fail();
  ::unlink(name.c_str());
}

SampleSpool::~SampleSpool() { ::close(fd_); }

void SampleSpool::add(std::size_t channel, std::span<const float> values) {
  Channel& to = channels_[channel];
  while (!values.empty()) {
    const std::size_t n = std::min(values.size(), kPiece - to.rest.size());
    to.rest.insert(to.rest.end(), values.begin(), values.begin() + static_cast<std::ptrdiff_t>(n));
    values = values.subspan(n);
    if (to.rest.size() < kPiece) continue;
    const std::size_t bytes = kPiece * sizeof(float);
    if (!write_all(fd_, {reinterpret_cast<const char*>(to.rest.data()), bytes})) fail();
    to.pieces.push_back(size_);
    size_ += static_cast<std::int64_t>(bytes);
    to.rest.clear();
  }
}

bool SampleSpool::copy(std::size_t channel, std::uint64_t at, void* to, std::size_t bytes) const {
  const Channel& from = channels_[channel];
  char* out = static_cast<char*>(to);
  while (bytes > 0) {
    const std::size_t piece = at / (kPiece * sizeof(float)), within = at % (kPiece * sizeof(float));
    const std::size_t n = std::min(bytes, kPiece * sizeof(float) - within);
    if (piece == from.pieces.size()) {
      std::memcpy(out, reinterpret_cast<const char*>(from.rest.data()) + within, n);
    } else {
      const off_t place = from.pieces[piece] + static_cast<off_t>(within);
      const ssize_t got = retried([&] { return ::pread(fd_, out, n, place); });
      if (got >= 0 && static_cast<std::size_t>(got) < n) errno = EIO;
      if (got < 0 || static_cast<std::size_t>(got) < n) return false;
    }
    at += n;
    out += n;
    bytes -= n;
  }
  return true;
}

}  // namespace airlatch
