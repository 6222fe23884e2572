// cairo.hpp: what is used of cairo (drawing), loaded when it is first called.
#pragma once
#include <cairo-pdf.h>
#include <cairo-svg.h>
#include <cairo.h>

#include "plugin/sources/late/library.hpp"

namespace airlatch {

inline constexpr LateLibrary kCairo{"libcairo.so.2", "libcairo2"};
AIRLATCH_LATE(kCairo, cairo_arc)
AIRLATCH_LATE(kCairo, cairo_clip)
AIRLATCH_LATE(kCairo, cairo_close_path)
AIRLATCH_LATE(kCairo, cairo_create)
AIRLATCH_LATE(kCairo, cairo_destroy)
AIRLATCH_LATE(kCairo, cairo_fill)
AIRLATCH_LATE(kCairo, cairo_image_surface_create)
AIRLATCH_LATE(kCairo, cairo_line_to)
AIRLATCH_LATE(kCairo, cairo_move_to)
AIRLATCH_LATE(kCairo, cairo_new_path)
AIRLATCH_LATE(kCairo, cairo_paint)
AIRLATCH_LATE(kCairo, cairo_pdf_surface_create_for_stream)
AIRLATCH_LATE(kCairo, cairo_rectangle)
AIRLATCH_LATE(kCairo, cairo_restore)
AIRLATCH_LATE(kCairo, cairo_save)
AIRLATCH_LATE(kCairo, cairo_scale)
AIRLATCH_LATE(kCairo, cairo_select_font_face)
AIRLATCH_LATE(kCairo, cairo_set_dash)
AIRLATCH_LATE(kCairo, cairo_set_font_size)
AIRLATCH_LATE(kCairo, cairo_set_line_join)
AIRLATCH_LATE(kCairo, cairo_set_line_width)
AIRLATCH_LATE(kCairo, cairo_set_source_rgb)
AIRLATCH_LATE(kCairo, cairo_set_source_rgba)
AIRLATCH_LATE(kCairo, cairo_show_page)
AIRLATCH_LATE(kCairo, cairo_show_text)
AIRLATCH_LATE(kCairo, cairo_stroke)
AIRLATCH_LATE(kCairo, cairo_surface_destroy)
AIRLATCH_LATE(kCairo, cairo_surface_finish)
AIRLATCH_LATE(kCairo, cairo_surface_write_to_png_stream)
AIRLATCH_LATE(kCairo, cairo_svg_surface_create_for_stream)
AIRLATCH_LATE(kCairo, cairo_text_extents)

}  // namespace airlatch
