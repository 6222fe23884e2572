// SPDX-License-Identifier: GPL-3.0-or-later
// cairo.hpp: the functions of cairo (drawing) that are used, loaded at their first call.
#pragma once
#include <cairo-pdf.h>
#include <cairo-svg.h>
#include <cairo.h>

#include "plugin/system/lazy/library.hpp"

namespace airlatch::lazy {

inline constexpr LazyLibrary kCairo{"libcairo.so.2", "libcairo2"};
AIRLATCH_LAZY(kCairo, cairo_arc)
AIRLATCH_LAZY(kCairo, cairo_clip)
AIRLATCH_LAZY(kCairo, cairo_close_path)
AIRLATCH_LAZY(kCairo, cairo_create)
AIRLATCH_LAZY(kCairo, cairo_destroy)
AIRLATCH_LAZY(kCairo, cairo_fill)
AIRLATCH_LAZY(kCairo, cairo_image_surface_create)
AIRLATCH_LAZY(kCairo, cairo_line_to)
AIRLATCH_LAZY(kCairo, cairo_move_to)
AIRLATCH_LAZY(kCairo, cairo_new_path)
AIRLATCH_LAZY(kCairo, cairo_paint)
AIRLATCH_LAZY(kCairo, cairo_pdf_surface_add_outline)
AIRLATCH_LAZY(kCairo, cairo_pdf_surface_create_for_stream)
AIRLATCH_LAZY(kCairo, cairo_pdf_surface_set_metadata)
AIRLATCH_LAZY(kCairo, cairo_rectangle)
AIRLATCH_LAZY(kCairo, cairo_restore)
AIRLATCH_LAZY(kCairo, cairo_save)
AIRLATCH_LAZY(kCairo, cairo_scale)
AIRLATCH_LAZY(kCairo, cairo_set_dash)
AIRLATCH_LAZY(kCairo, cairo_set_line_join)
AIRLATCH_LAZY(kCairo, cairo_set_line_width)
AIRLATCH_LAZY(kCairo, cairo_set_source_rgb)
AIRLATCH_LAZY(kCairo, cairo_set_source_rgba)
AIRLATCH_LAZY(kCairo, cairo_show_page)
AIRLATCH_LAZY(kCairo, cairo_status)
AIRLATCH_LAZY(kCairo, cairo_status_to_string)
AIRLATCH_LAZY(kCairo, cairo_stroke)
AIRLATCH_LAZY(kCairo, cairo_surface_destroy)
AIRLATCH_LAZY(kCairo, cairo_surface_finish)
AIRLATCH_LAZY(kCairo, cairo_surface_status)
AIRLATCH_LAZY(kCairo, cairo_surface_write_to_png_stream)
AIRLATCH_LAZY(kCairo, cairo_svg_surface_create_for_stream)
AIRLATCH_LAZY(kCairo, cairo_tag_begin)
AIRLATCH_LAZY(kCairo, cairo_tag_end)

}  // namespace airlatch::lazy
