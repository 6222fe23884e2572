// SPDX-License-Identifier: GPL-3.0-or-later
// arrays_apart.hpp: arrays read by a library in a process of its own.
//
// How   fork; the child opens the file and answers over a socket. Libraries for rich containers have
//       had memory faults on damaged files: here such a file costs the child, and is told as what it
//       is. The child's memory is limited (kMostMemory), and so is how long it may think.
// Cost  a fork, and copying the numbers once.
#pragma once
#include <memory>
#include <string>

#include "plugin/sources/arrays.hpp"

namespace airlatch {

using OpensArrays = std::unique_ptr<ArrayFile> (*)(const std::string& path);

// `open` runs in the child; the ArrayError that it throws is thrown here. Its library must have been
// loaded before, so that what is missing is told as everywhere.
std::unique_ptr<ArrayFile> open_apart(const std::string& path, OpensArrays open);

}  // namespace airlatch
