// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/pdf_picture.hpp"

#include <algorithm>
#include <cmath>

#include "plugin/report/text_block.hpp"

namespace airlatch {
namespace {

constexpr double kLeft = 40;       // for the ticks beside a panel
constexpr double kName = 13;       // a panel's name above it
constexpr double kMarks = 13;      // the numbers of events
constexpr double kBelow = 26;      // ticks and what they count
constexpr double kLeastBar = 1.2;  // so that a bar of nothing is seen
constexpr double kSwatch = 26;     // a line in the legend
constexpr double kLegendLine = 13;

struct Pen {
  Colour colour = {};
  double width = 1;
  std::vector<double> dash = {};
};

Pen pen_of(Ink ink) {
  switch (ink) {
    case Ink::kBefore:
      return {ink::kBefore, 1.4, {5, 2}};
    case Ink::kAfter:
    case Ink::kFirst:
      return {ink::kAfter, 1, {}};
    case Ink::kSecond:
      return {ink::kBefore, 1, {4, 2}};
    case Ink::kThird:
      return {ink::kThird, 1, {1.5, 1.5}};
    case Ink::kFit:
      return {ink::kBad, 1.4, {1.5, 3}};
  }
  return {};
}

void use(const Canvas& canvas, const Pen& pen) {
  canvas.colour(pen.colour);
  lazy::cairo_set_line_width(canvas.cairo(), pen.width);
  lazy::cairo_set_line_join(canvas.cairo(), CAIRO_LINE_JOIN_ROUND);
  lazy::cairo_set_dash(canvas.cairo(), pen.dash.data(), static_cast<int>(pen.dash.size()), 0);
}

void line(const Canvas& canvas, const Pen& pen, double x1, double y1, double x2, double y2) {
  use(canvas, pen);
  lazy::cairo_move_to(canvas.cairo(), x1, y1);
  lazy::cairo_line_to(canvas.cairo(), x2, y2);
  lazy::cairo_stroke(canvas.cairo());
}

// One panel's frame, in points.
struct Frame {
  double x = 0, y = 0, width = 0, height = 0;
  const Scale* across = nullptr;
  const Scale* up = nullptr;
  [[nodiscard]] double x_of(double value) const { return x + width * across->part(value); }
  [[nodiscard]] double y_of(double value) const { return y + height * (1 - up->part(value)); }
};

void draw_curve(const Canvas& canvas, const Frame& frame, const Curve& curve) {
  cairo_t* const c = canvas.cairo();
  lazy::cairo_save(c);
  lazy::cairo_rectangle(c, frame.x, frame.y, frame.width, frame.height);
  lazy::cairo_clip(c);
  use(canvas, pen_of(curve.ink));
  bool down = false;
  for (const auto& [x, y] : line_of(curve)) {
    if (std::isfinite(y)) {
      if (down)
        lazy::cairo_line_to(c, frame.x_of(x), frame.y_of(y));
      else
        lazy::cairo_move_to(c, frame.x_of(x), frame.y_of(y));
    }
    down = std::isfinite(y);
  }
  lazy::cairo_stroke(c);
  lazy::cairo_restore(c);
}

void draw_drop(const Canvas& canvas, const Frame& frame, const Drop& drop) {
  const double x = frame.x_of(drop.x), from = frame.y_of(drop.from), to = frame.y_of(drop.to);
  line(canvas, {ink::kText, 0.8, {3, 3}}, frame.x_of(drop.x_from), from, x, from);
  line(canvas, {ink::kText, 1.4, {}}, x, from, x, to);
  const double at = frame.y_of(drop.text_at);
  line(canvas, {ink::kText, 0.5, {}}, x, to, x, at);
  const TextBlock words(canvas.cairo(), drop.text, {.size = kSmall, .bold = true});
  const bool left = x > frame.x + frame.width / 2;
  canvas.colour(ink::kText);
  words.draw(left ? x - words.width() - 4 : x + 4, at - words.height() / 2);
}

void draw_panel(const Canvas& canvas, const Picture& picture, const PicturePanel& panel,
                const Frame& frame) {
  const Pen grid{ink::kRule, 0.5, {}};
  for (const Tick& tick : picture.x.ticks)
    line(canvas, grid, frame.x_of(tick.at), frame.y, frame.x_of(tick.at), frame.y + frame.height);
  for (const Tick& tick : panel.y.ticks) {
    line(canvas, grid, frame.x, frame.y_of(tick.at), frame.x + frame.width, frame.y_of(tick.at));
    canvas.colour(ink::kText);
    canvas.text(frame.x - 4, frame.y_of(tick.at) + kSmall / 3, tick.text, kSmall, 1);
  }
  for (const PictureMark& mark : picture.marks)
    line(canvas, {ink::kSoft, 0.6, {1, 3}}, frame.x_of(mark.x), frame.y, frame.x_of(mark.x),
         frame.y + frame.height);
  for (const Curve& curve : panel.curves) draw_curve(canvas, frame, curve);
  for (const Drop& drop : panel.drops) draw_drop(canvas, frame, drop);
  use(canvas, {ink::kSoft, 0.7, {}});
  lazy::cairo_rectangle(canvas.cairo(), frame.x, frame.y, frame.width, frame.height);
  lazy::cairo_stroke(canvas.cairo());
  canvas.colour(ink::kSoft);
  canvas.text(frame.x - kLeft, frame.y - 3.5, panel.label, kSmall);
}

// The curves' names, in lines; their height. Draws nothing where `drawn` is false.
double legend(const Canvas& canvas, const Picture& picture, double x, double y, double width,
              bool drawn) {
  std::vector<std::pair<std::string, Ink>> all;
  for (const PicturePanel& panel : picture.panels)
    for (const Curve& curve : panel.curves)
      if (std::find(all.begin(), all.end(), std::pair(curve.name, curve.ink)) == all.end())
        all.emplace_back(curve.name, curve.ink);
  double at = x, top = y;
  for (const auto& [name, ink] : all) {
    const TextBlock words(canvas.cairo(), as_typed(name), {.size = kSmall});
    const double needs = kSwatch + 4 + words.width() + 14;
    if (at > x && at + needs > x + width) {
      at = x;
      top += kLegendLine;
    }
    if (drawn) {
      line(canvas, pen_of(ink), at, top + kLegendLine / 2, at + kSwatch, top + kLegendLine / 2);
      canvas.colour(ink::kText);
      words.draw(at + kSwatch + 4, top);
    }
    at += needs;
  }
  return top + kLegendLine - y;
}

}  // namespace

double picture_height(const Canvas& canvas, const Picture& picture, double width,
                      double plot_height) {
  return plot_height + kName * static_cast<double>(picture.panels.size()) +
         (picture.marks.empty() ? 0 : kMarks) + kBelow +
         legend(canvas, picture, 0, 0, width - kLeft, false);
}

void draw_picture(const Canvas& canvas, const Picture& picture, double x, double y, double width,
                  double plot_height) {
  double shares = 0;
  for (const PicturePanel& panel : picture.panels) shares += panel.share;
  Frame frame{x + kLeft, y + (picture.marks.empty() ? 0 : kMarks), width - kLeft - 6, 0, &picture.x,
              nullptr};
  canvas.colour(ink::kSoft);
  for (const PictureMark& mark : picture.marks)
    canvas.text(frame.x_of(mark.x), y + kMarks - 3, mark.text, kSmall, 0.5);
  for (const PicturePanel& panel : picture.panels) {
    frame.y += kName;
    frame.height = plot_height * panel.share / shares;
    frame.up = &panel.y;
    draw_panel(canvas, picture, panel, frame);
    frame.y += frame.height;
  }
  canvas.colour(ink::kText);
  for (const Tick& tick : picture.x.ticks)
    canvas.text(frame.x_of(tick.at), frame.y + 11, tick.text, kSmall, 0.5);
  canvas.colour(ink::kSoft);
  canvas.text(frame.x + frame.width / 2, frame.y + 22, picture.x_label, kSmall, 0.5);
  legend(canvas, picture, frame.x, frame.y + kBelow, frame.width, true);
}

void draw_bar(const Canvas& canvas, const Gauge& gauge, const Gauge::Bar& bar, double x, double y,
              double width, double height) {
  cairo_t* const c = canvas.cairo();
  const auto at = [&](double value) {
    return x + width * std::clamp((value - gauge.low) / (gauge.high - gauge.low), 0.0, 1.0);
  };
  if (gauge.min || gauge.max) {
    const double from = at(gauge.min.value_or(0)), to = gauge.max ? at(*gauge.max) : x + width;
    canvas.colour(ink::kAllowed);
    lazy::cairo_rectangle(c, from, y, to - from, height);
    lazy::cairo_fill(c);
  }
  const double zero = at(0), end = at(bar.value);
  const double length = std::max(std::abs(end - zero), kLeastBar);
  lazy::cairo_rectangle(c, std::min(zero, end), y + height / 4, length, height / 2);
  if (bar.past) {
    canvas.colour({1, 1, 1});
    lazy::cairo_fill(c);
    use(canvas, {ink::kBefore, 1.2, {}});
    lazy::cairo_rectangle(c, std::min(zero, end), y + height / 4, length, height / 2);
    lazy::cairo_stroke(c);
  } else {
    canvas.colour(ink::kAfter);
    lazy::cairo_fill(c);
  }
  if (bar.u > 0)
    line(canvas, {ink::kText, 1.2, {}}, at(bar.value - 2 * bar.u), y + height / 2,
         at(bar.value + 2 * bar.u), y + height / 2);
  for (const auto& limit : {gauge.min, gauge.max})
    if (limit) line(canvas, {ink::kText, 1.8, {}}, at(*limit), y, at(*limit), y + height);
}

}  // namespace airlatch
