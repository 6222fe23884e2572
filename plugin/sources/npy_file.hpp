// SPDX-License-Identifier: GPL-3.0-or-later
// npy_file.hpp: arrays as NumPy saves them, alone (.npy) or several in a zip (.npz).
//
// In    format versions 1 to 3 (numpy.lib.format): numbers, booleans and times of one dimension or
//       two, records of such; either byte order.
// Out   named arrays: an entry's name, a record's field, or a column's number (CH1, CH2 ...). The
//       longer dimension of two is time.
// Cost  a .npy is read as it is needed; the arrays of a zip are in memory, kMostZipped bytes at most.
#pragma once
#include <memory>
#include <string_view>

#include "plugin/sources/arrays.hpp"

namespace airlatch {

inline constexpr std::uint64_t kMostZipped = std::uint64_t{1} << 30;

bool is_npy(std::string_view head);
// Throw InputError, ArrayError.
std::unique_ptr<ArrayFile> open_npy(const InputFile& file);
std::unique_ptr<ArrayFile> open_npz(const InputFile& file);

}  // namespace airlatch
