// libzip.hpp: what is used of libzip (archives), loaded when it is first called.
#pragma once
#include <zip.h>

#include "plugin/sources/late/library.hpp"

namespace airlatch {

inline constexpr LateLibrary kLibzip{"libzip.so.4", "libzip4"};
AIRLATCH_LATE(kLibzip, zip_close)
AIRLATCH_LATE(kLibzip, zip_discard)
AIRLATCH_LATE(kLibzip, zip_error_fini)
AIRLATCH_LATE(kLibzip, zip_error_init)
AIRLATCH_LATE(kLibzip, zip_error_init_with_code)
AIRLATCH_LATE(kLibzip, zip_error_strerror)
AIRLATCH_LATE(kLibzip, zip_fclose)
AIRLATCH_LATE(kLibzip, zip_file_add)
AIRLATCH_LATE(kLibzip, zip_file_get_error)
AIRLATCH_LATE(kLibzip, zip_file_set_dostime)
AIRLATCH_LATE(kLibzip, zip_fopen_index)
AIRLATCH_LATE(kLibzip, zip_fread)
AIRLATCH_LATE(kLibzip, zip_get_num_entries)
AIRLATCH_LATE(kLibzip, zip_open)
AIRLATCH_LATE(kLibzip, zip_open_from_source)
AIRLATCH_LATE(kLibzip, zip_set_file_compression)
AIRLATCH_LATE(kLibzip, zip_source_buffer)
AIRLATCH_LATE(kLibzip, zip_source_filep_create)
AIRLATCH_LATE(kLibzip, zip_source_free)
AIRLATCH_LATE(kLibzip, zip_stat_index)
AIRLATCH_LATE(kLibzip, zip_stat_init)
AIRLATCH_LATE(kLibzip, zip_strerror)

}  // namespace airlatch
