// SPDX-License-Identifier: GPL-3.0-or-later
// pango.hpp: the functions of Pango (text in lines) that are used, loaded at their first call.
#pragma once
#include <pango/pangocairo.h>

#include "plugin/system/lazy/library.hpp"

namespace airlatch::lazy {

// Attributes that say which results must not be dropped are not part of a type.
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wignored-attributes"
inline constexpr LazyLibrary kGobject{"libgobject-2.0.so.0", "libglib2.0-0"};
inline constexpr LazyLibrary kPango{"libpango-1.0.so.0", "libpango-1.0-0"};
inline constexpr LazyLibrary kPangoCairo{"libpangocairo-1.0.so.0", "libpangocairo-1.0-0"};
AIRLATCH_LAZY(kGobject, g_object_unref)
AIRLATCH_LAZY(kPango, pango_attr_insert_hyphens_new)
AIRLATCH_LAZY(kPango, pango_attr_list_insert)
AIRLATCH_LAZY(kPango, pango_attr_list_new)
AIRLATCH_LAZY(kPango, pango_attr_list_unref)
AIRLATCH_LAZY(kPango, pango_attr_weight_new)
AIRLATCH_LAZY(kPango, pango_context_set_round_glyph_positions)
AIRLATCH_LAZY(kPango, pango_font_description_free)
AIRLATCH_LAZY(kPango, pango_font_description_new)
AIRLATCH_LAZY(kPango, pango_font_description_set_absolute_size)
AIRLATCH_LAZY(kPango, pango_font_description_set_family)
AIRLATCH_LAZY(kPango, pango_font_description_set_weight)
AIRLATCH_LAZY(kPango, pango_layout_get_baseline)
AIRLATCH_LAZY(kPango, pango_layout_get_context)
AIRLATCH_LAZY(kPango, pango_layout_get_line_count)
AIRLATCH_LAZY(kPango, pango_layout_get_line_readonly)
AIRLATCH_LAZY(kPango, pango_layout_get_size)
AIRLATCH_LAZY(kPango, pango_layout_line_get_extents)
AIRLATCH_LAZY(kPango, pango_layout_set_alignment)
AIRLATCH_LAZY(kPango, pango_layout_set_attributes)
AIRLATCH_LAZY(kPango, pango_layout_set_ellipsize)
AIRLATCH_LAZY(kPango, pango_layout_set_font_description)
AIRLATCH_LAZY(kPango, pango_layout_set_height)
AIRLATCH_LAZY(kPango, pango_layout_set_text)
AIRLATCH_LAZY(kPango, pango_layout_set_width)
AIRLATCH_LAZY(kPango, pango_layout_set_wrap)
AIRLATCH_LAZY(kPangoCairo, pango_cairo_create_layout)
AIRLATCH_LAZY(kPangoCairo, pango_cairo_show_layout)
AIRLATCH_LAZY(kPangoCairo, pango_cairo_show_layout_line)
#pragma GCC diagnostic pop

}  // namespace airlatch::lazy
