// SPDX-License-Identifier: GPL-3.0-or-later
// hdf5_file.hpp: arrays in HDF5 files, MAT files of version 7.3 and netCDF 4, which are such.
//
// In    data sets of numbers with one dimension or two, and tables (records of numbers), in groups.
// Out   named arrays; the longer dimension of two is time. An attribute unit(s) is the unit; single
//       numbers and numeric attributes of a data set, a group or the file may state the rate.
// How   read piece by piece (hyperslabs), in a process of its own (arrays_apart).
#pragma once
#include <memory>
#include <string_view>

#include "plugin/sources/arrays.hpp"

namespace airlatch {

bool is_hdf5(std::string_view head);
// Throws InputError, ArrayError.
std::unique_ptr<ArrayFile> open_hdf5(const InputFile& file);

}  // namespace airlatch
