// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/system/lazy/library.hpp"

#include <dlfcn.h>
#include <fmt/format.h>

#include "plugin/system/input_error.hpp"

namespace airlatch {

void* lazy_symbol(const LazyLibrary& library, const char* name) {
  // Never closed: the second and later calls only count up.
  void* const loaded = ::dlopen(library.file, RTLD_LAZY | RTLD_LOCAL);
  void* const at = loaded ? ::dlsym(loaded, name) : nullptr;
  if (at) return at;
  const char* why = ::dlerror();
  throw InputError(ExitStatus::kNotFound, library.file, "",
                   fmt::format("the library cannot be used ({})", why ? why : "no reason given"),
                   fmt::format("install the package {}", library.package));
}

}  // namespace airlatch
