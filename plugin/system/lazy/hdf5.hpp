// SPDX-License-Identifier: GPL-3.0-or-later
// hdf5.hpp: the functions of HDF5 (files of arrays) that are used, loaded at their first call.
#pragma once
#include <hdf5.h>

#include "plugin/system/lazy/library.hpp"

namespace airlatch::lazy {

inline constexpr LazyLibrary kHdf5{"libhdf5_serial.so.103", "libhdf5-103-1"};
AIRLATCH_LAZY(kHdf5, H5Aclose)
AIRLATCH_LAZY(kHdf5, H5Aexists)
AIRLATCH_LAZY(kHdf5, H5Aget_space)
AIRLATCH_LAZY(kHdf5, H5Aget_type)
AIRLATCH_LAZY(kHdf5, H5Aopen)
AIRLATCH_LAZY(kHdf5, H5Aread)
AIRLATCH_LAZY(kHdf5, H5Dclose)
AIRLATCH_LAZY(kHdf5, H5Dget_space)
AIRLATCH_LAZY(kHdf5, H5Dget_type)
AIRLATCH_LAZY(kHdf5, H5Dread)
AIRLATCH_LAZY(kHdf5, H5Eset_auto2)
AIRLATCH_LAZY(kHdf5, H5Fclose)
AIRLATCH_LAZY(kHdf5, H5Fopen)
AIRLATCH_LAZY(kHdf5, H5Gclose)
AIRLATCH_LAZY(kHdf5, H5Gget_info)
AIRLATCH_LAZY(kHdf5, H5Iget_type)
AIRLATCH_LAZY(kHdf5, H5Lget_info)
AIRLATCH_LAZY(kHdf5, H5Lget_name_by_idx)
AIRLATCH_LAZY(kHdf5, H5Oclose)
AIRLATCH_LAZY(kHdf5, H5Oopen)
AIRLATCH_LAZY(kHdf5, H5Sclose)
AIRLATCH_LAZY(kHdf5, H5Screate_simple)
AIRLATCH_LAZY(kHdf5, H5Sget_simple_extent_dims)
AIRLATCH_LAZY(kHdf5, H5Sget_simple_extent_ndims)
AIRLATCH_LAZY(kHdf5, H5Sget_simple_extent_npoints)
AIRLATCH_LAZY(kHdf5, H5Sselect_hyperslab)
AIRLATCH_LAZY(kHdf5, H5Tclose)
AIRLATCH_LAZY(kHdf5, H5Tcopy)
AIRLATCH_LAZY(kHdf5, H5Tcreate)
AIRLATCH_LAZY(kHdf5, H5Tget_class)
AIRLATCH_LAZY(kHdf5, H5Tget_member_name)
AIRLATCH_LAZY(kHdf5, H5Tget_member_type)
AIRLATCH_LAZY(kHdf5, H5Tget_nmembers)
AIRLATCH_LAZY(kHdf5, H5Tget_size)
AIRLATCH_LAZY(kHdf5, H5Tinsert)
AIRLATCH_LAZY(kHdf5, H5Tis_variable_str)
AIRLATCH_LAZY(kHdf5, H5Tset_size)
AIRLATCH_LAZY(kHdf5, H5free_memory)

}  // namespace airlatch::lazy
