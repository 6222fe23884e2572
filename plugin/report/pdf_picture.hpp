// SPDX-License-Identifier: GPL-3.0-or-later
// pdf_picture.hpp: pictures and bars drawn on a canvas.
#pragma once
#include "plugin/report/canvas.hpp"
#include "plugin/report/document.hpp"

namespace airlatch {

// What the printed page is drawn with.
namespace ink {
inline constexpr Colour kText{0.11, 0.17, 0.19}, kSoft{0.29, 0.35, 0.38}, kRule{0.78, 0.82, 0.83},
    kTint{0.95, 0.965, 0.965}, kAllowed{0.86, 0.91, 0.92}, kAfter{0.055, 0.35, 0.40},
    kBefore{0.66, 0.35, 0.07}, kThird{0.36, 0.29, 0.54}, kBad{0.61, 0.18, 0.12},
    kOpen{0.42, 0.35, 0.07};
}  // namespace ink

inline constexpr double kSmall = 9;  // points: no text is smaller

// The height that `picture` takes, its plot being `plot_height`.
double picture_height(const Canvas& canvas, const Picture& picture, double width,
                      double plot_height);
void draw_picture(const Canvas& canvas, const Picture& picture, double x, double y, double width,
                  double plot_height);

// The bar of a gauge, its limit and its spread.
void draw_bar(const Canvas& canvas, const Gauge& gauge, const Gauge::Bar& bar, double x, double y,
              double width, double height);

}  // namespace airlatch
