// SPDX-License-Identifier: GPL-3.0-or-later
// panel.hpp: one set of axes on a drawing, and what is drawn between them.
//
// In    data in the axes' own units.
// Out   drawing on a Canvas, which becomes SVG, PNG or PDF from the same code (cairo).
// How   ticks by the 1-2-5 rule, decades on a logarithmic axis. Curves differ in line style and
//       marker too, so that no meaning depends on colour alone.
#pragma once
#include <string>
#include <utility>
#include <vector>

#include "plugin/report/canvas.hpp"

namespace airlatch {

struct Axis {
  double low = 0, high = 1;
  std::string label = {};
  bool logarithmic = false;
  bool labelled = true;  // tick labels
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
