// SPDX-License-Identifier: GPL-3.0-or-later
// canvas.hpp: one drawing that becomes SVG, PNG or PDF (cairo), and its text (Pango).
#pragma once
#include <memory>
#include <string>

#include "plugin/system/lazy/cairo.hpp"
#include "plugin/system/lazy/pango.hpp"

namespace airlatch {

struct Colour {
  double r = 0, g = 0, b = 0;
};

// One drawing of a size in points (1/72 inch). Text, a shown_text, is drawn as outlines: no fonts are
// needed where it is looked at.
class Canvas {
 public:
  enum class Kind { kSvg, kPng, kPdf };
  Canvas(Kind kind, double width, double height);
  [[nodiscard]] cairo_t* cairo() const { return cairo_.get(); }
  [[nodiscard]] cairo_surface_t* surface() const { return surface_.get(); }
  [[nodiscard]] double width() const { return width_; }
  [[nodiscard]] double height() const { return height_; }
  void text(double x, double y, const std::string& words, double size, double align = 0,
            bool bold = false) const;  // y: the base line; align: 0 left, 0.5 middle, 1 right
  void colour(Colour colour, double opacity = 1) const;
  void next_page() const;  // PDF only
  std::string finish();    // the file's bytes; call once

 private:
  Kind kind_;
  double width_, height_;
  std::unique_ptr<std::string> bytes_;  // where cairo writes to: must not move
  std::unique_ptr<cairo_surface_t, void (*)(cairo_surface_t*)> surface_;
  std::unique_ptr<cairo_t, void (*)(cairo_t*)> cairo_;
};

}  // namespace airlatch
