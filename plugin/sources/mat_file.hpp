// SPDX-License-Identifier: GPL-3.0-or-later
// mat_file.hpp: arrays in MAT files of levels 4 and 5 (what is saved as -v4, -v6, -v7); 7.3 is HDF5.
//
// In    numeric arrays of one dimension or two, and structures of such.
// Out   named arrays: a structure's fields stand in a group of its name; the longer dimension is
//       time. A text named unit(s) beside an array in a structure is not its unit: nothing says so.
// How   matio, in a process of its own (arrays_apart).
// Cost  all arrays in that process's memory, kMostMat bytes at most.
#pragma once
#include <memory>
#include <string_view>

#include "plugin/sources/arrays.hpp"

namespace airlatch {

inline constexpr std::uint64_t kMostMat = std::uint64_t{1} << 30;

bool is_mat(std::string_view head);
// Throws InputError, ArrayError.
std::unique_ptr<ArrayFile> open_mat(const InputFile& file);

}  // namespace airlatch
