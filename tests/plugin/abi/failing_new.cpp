// SPDX-License-Identifier: GPL-3.0-or-later
#include "tests/plugin/abi/failing_new.hpp"

#include <cstdlib>
#include <new>

namespace airlatch::test {
thread_local long fail_in = -1;
}  // namespace airlatch::test

namespace {
void* allocated(std::size_t size) noexcept {
  if (airlatch::test::fail_in >= 0 && airlatch::test::fail_in-- == 0) return nullptr;
  return std::malloc(size ? size : 1);
}
}  // namespace

// Replaces the program's allocation, that of the shared objects it loads included.
void* operator new(std::size_t size) {
  if (void* p = allocated(size)) return p;
  throw std::bad_alloc();
}
void* operator new(std::size_t size, const std::nothrow_t&) noexcept { return allocated(size); }
void operator delete(void* p) noexcept { std::free(p); }
void operator delete(void* p, std::size_t) noexcept { std::free(p); }
void operator delete(void* p, const std::nothrow_t&) noexcept { std::free(p); }
