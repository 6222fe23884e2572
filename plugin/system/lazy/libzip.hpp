// SPDX-License-Identifier: GPL-3.0-or-later
// libzip.hpp: the functions of libzip (archives) that are used, loaded at their first call.
#pragma once
#include <zip.h>

#include "plugin/system/lazy/library.hpp"

namespace airlatch::lazy {

inline constexpr LazyLibrary kLibzip{"libzip.so.4", "libzip4"};
AIRLATCH_LAZY(kLibzip, zip_close)
AIRLATCH_LAZY(kLibzip, zip_discard)
AIRLATCH_LAZY(kLibzip, zip_error_code_zip)
AIRLATCH_LAZY(kLibzip, zip_error_fini)
AIRLATCH_LAZY(kLibzip, zip_error_init)
AIRLATCH_LAZY(kLibzip, zip_error_init_with_code)
AIRLATCH_LAZY(kLibzip, zip_error_set)
AIRLATCH_LAZY(kLibzip, zip_error_strerror)
AIRLATCH_LAZY(kLibzip, zip_error_to_data)
AIRLATCH_LAZY(kLibzip, zip_fclose)
AIRLATCH_LAZY(kLibzip, zip_file_add)
AIRLATCH_LAZY(kLibzip, zip_file_get_error)
AIRLATCH_LAZY(kLibzip, zip_file_set_dostime)
AIRLATCH_LAZY(kLibzip, zip_fopen_index)
AIRLATCH_LAZY(kLibzip, zip_fread)
AIRLATCH_LAZY(kLibzip, zip_get_num_entries)
AIRLATCH_LAZY(kLibzip, zip_open)
AIRLATCH_LAZY(kLibzip, zip_open_from_source)
AIRLATCH_LAZY(kLibzip, zip_set_file_compression)
AIRLATCH_LAZY(kLibzip, zip_source_buffer)
AIRLATCH_LAZY(kLibzip, zip_source_filep_create)
AIRLATCH_LAZY(kLibzip, zip_source_free)
AIRLATCH_LAZY(kLibzip, zip_source_function_create)
AIRLATCH_LAZY(kLibzip, zip_source_make_command_bitmap)
AIRLATCH_LAZY(kLibzip, zip_source_seek_compute_offset)
AIRLATCH_LAZY(kLibzip, zip_stat_index)
AIRLATCH_LAZY(kLibzip, zip_stat_init)
AIRLATCH_LAZY(kLibzip, zip_strerror)

}  // namespace airlatch::lazy
