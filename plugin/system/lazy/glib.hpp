// SPDX-License-Identifier: GPL-3.0-or-later
// glib.hpp: the functions of GLib that are used, loaded at their first call: libsigrok passes its
// lists and values.
#pragma once
#include <glib.h>

#include "plugin/system/lazy/library.hpp"

namespace airlatch::lazy {

// Attributes that say which results must not be dropped are not part of a type.
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wignored-attributes"
inline constexpr LazyLibrary kGlib{"libglib-2.0.so.0", "libglib2.0-0"};
AIRLATCH_LAZY(kGlib, g_array_free)
AIRLATCH_LAZY(kGlib, g_slist_append)
AIRLATCH_LAZY(kGlib, g_slist_free)
AIRLATCH_LAZY(kGlib, g_slist_length)
AIRLATCH_LAZY(kGlib, g_variant_get_uint64)
AIRLATCH_LAZY(kGlib, g_variant_new_boolean)
AIRLATCH_LAZY(kGlib, g_variant_new_double)
AIRLATCH_LAZY(kGlib, g_variant_new_int32)
AIRLATCH_LAZY(kGlib, g_variant_new_string)
AIRLATCH_LAZY(kGlib, g_variant_new_uint64)
AIRLATCH_LAZY(kGlib, g_variant_ref_sink)
AIRLATCH_LAZY(kGlib, g_variant_unref)
#pragma GCC diagnostic pop

}  // namespace airlatch::lazy
