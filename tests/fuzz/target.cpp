// SPDX-License-Identifier: GPL-3.0-or-later
#include "tests/fuzz/target.hpp"

#include <sys/mman.h>
#include <unistd.h>

#include <cstdio>

namespace airlatch::fuzz {

MemoryFile::MemoryFile(std::string_view bytes) : file_(::memfd_create("input", MFD_CLOEXEC)) {
  promise(file_ >= 0 && ::write(file_, bytes.data(), bytes.size()) == std::ssize(bytes),
          "no room for a file in memory");
  path_ = "/proc/self/fd/" + std::to_string(file_);
}

MemoryFile::~MemoryFile() { ::close(file_); }

void promise(bool kept, const char* what) {
  if (kept) return;
  std::fprintf(stderr, "not kept: %s\n", what);
  std::abort();
}

void read_capture(std::string_view bytes) {
  const MemoryFile file(bytes);
  may_refuse([&] {
    const auto source = open_source(file.path(), kOpen);
    SampleBlock block;
    float sum = 0;
    while (source->next(block)) {
      promise(block.channel < source->channels().size(), "a block of no channel");
      if (block.values.empty()) continue;  // its channel has ended
      promise(block.times_ns.empty() ? block.clock.num_ns > 0 && block.clock.den > 0
                                     : block.times_ns.size() == block.values.size(),
              "a block without a time for each value");
      for (const float value : block.values) sum += value;
    }
    promise(source->progress() <= 1, "more than all was read");
    static_cast<void>(source->damage());
    asm volatile("" : : "x"(sum));  // each value was looked at
  });
}

}  // namespace airlatch::fuzz
