// library.hpp: functions of a shared library that is loaded when the first of them is called.
//
// How   dlopen. A program that only reads and judges a file need not wait for the loader to bring
//       in drawing, databases, sound formats and instruments: two thirds of its start-up.
//       Within namespace airlatch the names stand for the library's own functions:
//         AIRLATCH_LATE(kCairo, cairo_stroke)  ...  cairo_stroke(canvas);
#pragma once
#include <atomic>

namespace airlatch {

struct LateLibrary {
  const char* file;     // its soname: the interface that the headers describe
  const char* package;  // Debian's, for who has to mend it
};

// Throws InputError where the library or the function is not there.
void* late_symbol(const LateLibrary& library, const char* name);

template <const LateLibrary& kLibrary, typename Function>
class Late {
 public:
  explicit constexpr Late(const char* name) : name_(name) {}
  operator Function*() const {
    void* at = at_.load(std::memory_order_acquire);
    if (!at) {
      at = late_symbol(kLibrary, name_);
      at_.store(at, std::memory_order_release);
    }
    return reinterpret_cast<Function*>(at);
  }

 private:
  const char* name_;
  mutable std::atomic<void*> at_{nullptr};
};

#define AIRLATCH_LATE(library, function) \
  inline constinit const Late<library, decltype(::function)> function(#function);

}  // namespace airlatch
