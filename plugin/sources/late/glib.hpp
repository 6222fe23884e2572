// glib.hpp: what is used of GLib, whose lists and values libsigrok hands over, loaded when it is
// first called.
#pragma once
#include <glib.h>

#include "plugin/sources/late/library.hpp"

namespace airlatch {

// The compiler is told which results must not be dropped: not part of a type.
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wignored-attributes"
inline constexpr LateLibrary kGlib{"libglib-2.0.so.0", "libglib2.0-0"};
AIRLATCH_LATE(kGlib, g_array_free)
AIRLATCH_LATE(kGlib, g_slist_append)
AIRLATCH_LATE(kGlib, g_slist_free)
AIRLATCH_LATE(kGlib, g_slist_length)
AIRLATCH_LATE(kGlib, g_variant_get_uint64)
AIRLATCH_LATE(kGlib, g_variant_new_boolean)
AIRLATCH_LATE(kGlib, g_variant_new_double)
AIRLATCH_LATE(kGlib, g_variant_new_int32)
AIRLATCH_LATE(kGlib, g_variant_new_string)
AIRLATCH_LATE(kGlib, g_variant_new_uint64)
AIRLATCH_LATE(kGlib, g_variant_ref_sink)
AIRLATCH_LATE(kGlib, g_variant_unref)
#pragma GCC diagnostic pop

}  // namespace airlatch
