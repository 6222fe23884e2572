// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/canvas.hpp"

#include <new>

#include "plugin/report/text_block.hpp"
#include "plugin/system/input_error.hpp"

namespace airlatch {
namespace {

constexpr double kPngScale = 2;  // pixels a point

cairo_status_t append(void* to, const unsigned char* data, unsigned int size) {
  try {
    static_cast<std::string*>(to)->append(reinterpret_cast<const char*>(data), size);
    return CAIRO_STATUS_SUCCESS;
  } catch (const std::bad_alloc&) {
    return CAIRO_STATUS_NO_MEMORY;
  }
}

// What cairo could not draw it leaves out without a word.
void check(cairo_status_t status) {
  if (status == CAIRO_STATUS_SUCCESS) return;
  // No memory is also what it says of a font that cannot be opened.
  const char* const mend =
      status == CAIRO_STATUS_NO_MEMORY
          ? "check that the system's fonts can be read, and that memory is left"
          : "check that the system's fonts can be read";
  throw InputError(
      ExitStatus::kReadWriteFailed, "", "",
      std::string("the plot cannot be drawn (") + lazy::cairo_status_to_string(status) + ")", mend);
}

}  // namespace

Canvas::Canvas(Kind kind, double width, double height)
    : kind_(kind),
      width_(width),
      height_(height),
      bytes_(std::make_unique<std::string>()),
      surface_(nullptr, lazy::cairo_surface_destroy),
      cairo_(nullptr, lazy::cairo_destroy) {
  switch (kind) {
    case Kind::kSvg:
      surface_.reset(
          lazy::cairo_svg_surface_create_for_stream(append, bytes_.get(), width, height));
      break;
    case Kind::kPdf:
      surface_.reset(
          lazy::cairo_pdf_surface_create_for_stream(append, bytes_.get(), width, height));
      break;
    case Kind::kPng:
      surface_.reset(lazy::cairo_image_surface_create(CAIRO_FORMAT_RGB24,
                                                      static_cast<int>(width * kPngScale),
                                                      static_cast<int>(height * kPngScale)));
      break;
  }
  cairo_.reset(lazy::cairo_create(surface_.get()));
  if (kind == Kind::kPng) lazy::cairo_scale(cairo(), kPngScale, kPngScale);
  if (kind != Kind::kPdf) {
    colour({1, 1, 1});
    lazy::cairo_paint(cairo());
  }
}

void Canvas::text(double x, double y, const std::string& words, double size, double align,
                  bool bold) const {
  const TextBlock block(cairo(), words, {.size = size, .bold = bold});
  block.draw(x - align * block.width(), y - block.baseline());
}

void Canvas::colour(Colour k, double opacity) const {
  lazy::cairo_set_source_rgba(cairo(), k.r, k.g, k.b, opacity);
}

void Canvas::next_page() const { lazy::cairo_show_page(cairo()); }

std::string Canvas::finish() {
  if (kind_ == Kind::kPng)
    lazy::cairo_surface_write_to_png_stream(surface_.get(), append, bytes_.get());
  check(lazy::cairo_status(cairo_.get()));
  cairo_.reset();
  lazy::cairo_surface_finish(surface_.get());
  check(lazy::cairo_surface_status(surface_.get()));
  surface_.reset();
  return std::move(*bytes_);
}

}  // namespace airlatch
