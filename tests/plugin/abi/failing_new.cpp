#include "tests/plugin/abi/failing_new.hpp"

#include <cstdlib>
#include <new>

namespace airlatch::test {
thread_local long fail_in = -1;
}  // namespace airlatch::test

// Replaces the program's allocation, that of the shared objects it loads included.
void* operator new(std::size_t size) {
  if (airlatch::test::fail_in >= 0 && airlatch::test::fail_in-- == 0) throw std::bad_alloc();
  if (void* p = std::malloc(size ? size : 1)) return p;
  throw std::bad_alloc();
}
void operator delete(void* p) noexcept { std::free(p); }
void operator delete(void* p, std::size_t) noexcept { std::free(p); }
