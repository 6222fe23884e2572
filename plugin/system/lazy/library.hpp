// SPDX-License-Identifier: GPL-3.0-or-later
// library.hpp: functions of a shared library that is loaded when the first of them is called.
//
// How   dlopen. A program that only reads and judges a file need not wait for the loader to bring
//       in drawing, databases, sound formats and instruments: two thirds of its start-up.
//       The names live in airlatch::lazy and are called so, qualified: a function that has no
//       line there fails to compile, in every build type.
//         AIRLATCH_LAZY(kCairo, cairo_stroke)  ...  lazy::cairo_stroke(canvas);
#pragma once
#include <atomic>

namespace airlatch {

struct LazyLibrary {
  const char* file;     // its soname: the interface that the headers describe
  const char* package;  // Debian's, for the error message
};

// Throws InputError where the library or the function is not there.
void* lazy_symbol(const LazyLibrary& library, const char* name);

template <const LazyLibrary& kLibrary, typename Function>
class Lazy {
 public:
  explicit constexpr Lazy(const char* name) : name_(name) {}
  operator Function*() const {
    void* at = at_.load(std::memory_order_acquire);
    if (!at) {
      at = lazy_symbol(kLibrary, name_);
      at_.store(at, std::memory_order_release);
    }
    return reinterpret_cast<Function*>(at);
  }

 private:
  const char* name_;
  mutable std::atomic<void*> at_{nullptr};
};

#define AIRLATCH_LAZY(library, function) \
  inline constinit const Lazy<library, decltype(::function)> function(#function);

}  // namespace airlatch
