// SPDX-License-Identifier: GPL-3.0-or-later
// target.hpp: what fuzz targets share.
//
// In    the bytes of one input.
// How   a target hands them to one reader. The reader may refuse them in the one way there is;
//       anything else that is thrown, and any promise of a header that is not kept, ends the
//       process, which is how a fuzzer is told.
#pragma once
#include <cstdint>
#include <cstdlib>
#include <string>
#include <string_view>

#include "plugin/sources/source.hpp"
#include "plugin/system/input_error.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace airlatch::fuzz {

inline std::string_view text_of(const std::uint8_t* data, std::size_t size) {
  return {reinterpret_cast<const char*>(data), size};
}

// A file that lies in memory and has a path.
class MemoryFile {
 public:
  explicit MemoryFile(std::string_view bytes);
  ~MemoryFile();
  MemoryFile(const MemoryFile&) = delete;
  MemoryFile& operator=(const MemoryFile&) = delete;
  [[nodiscard]] const std::string& path() const { return path_; }

 private:
  int file_;
  std::string path_;
};

// Ends the process, saying what was not kept.
void promise(bool kept, const char* what);

// A refusal of what a file holds has one status only.
template <typename Work>
void may_refuse(Work&& work) {
  try {
    work();
  } catch (const InputError& error) {
    promise(error.status() == ExitStatus::kUnusableData, error.what());
  }
}

// Of text without a time column.
constexpr OpenOptions kOpen = {.rate_hz = 100};

// Opens the bytes as a capture and reads every sample, as far as they are to be held in bounded
// time; looks whether each block is what source.hpp promises.
void read_capture(std::string_view bytes);

}  // namespace airlatch::fuzz
