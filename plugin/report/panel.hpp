// SPDX-License-Identifier: GPL-3.0-or-later
// panel.hpp: one set of axes on a drawing, and what is drawn between them.
//
// In    data in the axes' own units.
// Out   drawing on a Canvas, which becomes SVG, PNG or PDF from the same code (cairo).
// How   ticks by the 1-2-5 rule, decades on a logarithmic axis. Curves differ in line style and
//       marker too, so that no meaning depends on colour alone.
#pragma once
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "plugin/system/lazy/cairo.hpp"

namespace airlatch {

// One drawing of a size in points (1/72 inch). Text, a shown_text, is drawn as outlines: no fonts are
// needed where it is looked at.
class Canvas {
 public:
  enum class Kind { kSvg, kPng, kPdf };
  Canvas(Kind kind, double width, double height);
  [[nodiscard]] cairo_t* cairo() const { return cairo_.get(); }
  [[nodiscard]] double width() const { return width_; }
  [[nodiscard]] double height() const { return height_; }
  void text(double x, double y, const std::string& words, double size, double align = 0,
            bool bold = false) const;  // align: 0 left, 0.5 middle, 1 right
  void next_page() const;              // PDF only
  std::string finish();                // the file's bytes; call once

 private:
  Kind kind_;
  double width_, height_;
  std::unique_ptr<std::string> bytes_;  // where cairo writes to: must not move
  std::unique_ptr<cairo_surface_t, void (*)(cairo_surface_t*)> surface_;
  std::unique_ptr<cairo_t, void (*)(cairo_t*)> cairo_;
};

struct Axis {
  double low = 0, high = 1;
  std::string label = {};
  bool logarithmic = false;
  bool labelled = true;  // tick labels
};

struct Colour {
  double r = 0, g = 0, b = 0;
};

class Panel {
 public:
  using Points = std::vector<std::pair<double, double>>;
  // The axes' frame in points.
  Panel(Canvas& canvas, double x, double y, double width, double height, Axis x_axis, Axis y_axis);
  void line(const Points& points, Colour colour, double width = 1.2, bool dashed = false);
  void marks(const Points& points, Colour colour,
             int shape);  // 0 disc, 1 square, 2 triangle, 3 diamond
  void band(const Points& low, const Points& high, Colour colour, double opacity);
  void vertical(double x, Colour colour, bool dashed = true);
  void horizontal(double y, Colour colour, bool dashed = true);
  [[nodiscard]] double x_of(double value) const;
  [[nodiscard]] double y_of(double value) const;

 private:
  void frame();
  Canvas& canvas_;
  double x_, y_, width_, height_;
  Axis x_axis_, y_axis_;
};

}  // namespace airlatch
