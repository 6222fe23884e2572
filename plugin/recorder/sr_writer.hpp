// SPDX-License-Identifier: GPL-3.0-or-later
// sr_writer.hpp: analog channels of one rate as a libsigrok session file (version 2).
//
// Zip with `version`, `metadata` and chunks analog-1-N-M of little-endian float32, deflated at
// level 1, put together in one go: libzip cannot append cheaply, so long recordings are not made
// this way. Units, gaps and the time of day have no place in the format. Written whole or not at
// all.
#pragma once
#include <cstdint>
#include <functional>
#include <string>
#include <utility>
#include <vector>

namespace airlatch {

struct SrChannel {
  std::string name;
  std::uint64_t samples = 0;
  // Bytes from `at` on of its samples, one float each, wherever they are kept. False, with errno,
  // where they cannot be read.
  std::function<bool(std::uint64_t at, void* to, std::size_t bytes)> copy;
};

// Throws InputError: kCannotCreate, kReadWriteFailed.
void write_sr(const std::string& path, std::int64_t rate_hz,
              const std::vector<SrChannel>& channels);
// Of samples in memory.
void write_sr(const std::string& path, std::int64_t rate_hz,
              const std::vector<std::pair<std::string, const std::vector<float>*>>& channels);

}  // namespace airlatch
