// SPDX-License-Identifier: GPL-3.0-or-later
// text_block.hpp: words laid out in a width, to be drawn whole or line by line.
#pragma once
#include <memory>

#include "plugin/report/document.hpp"
#include "plugin/system/lazy/cairo.hpp"
#include "plugin/system/lazy/pango.hpp"

namespace airlatch {

struct TextStyle {
  enum class Family { kSans, kSerif, kMono };
  double size = 9;  // points
  bool bold = false;
  Family family = Family::kSans;
  double align = 0;  // 0 left, 1 right
};

class TextBlock {
 public:
  // Broken into lines at `width`; on one line where that is 0. What would be higher than `highest` is
  // cut there, and says so by an ellipsis.
  TextBlock(cairo_t* cairo, const Words& words, const TextStyle& style, double width = 0,
            double highest = 0);
  [[nodiscard]] double width() const;
  [[nodiscard]] double height() const;
  [[nodiscard]] double baseline() const;  // of the first line, from the top
  void draw(double x, double y) const;    // its upper left corner
  [[nodiscard]] int lines() const;
  [[nodiscard]] double line_height(int k) const;
  void draw_line(int k, double x, double y) const;  // the line's upper left corner

 private:
  cairo_t* cairo_;
  std::unique_ptr<PangoLayout, void (*)(void*)> layout_;
};

}  // namespace airlatch
