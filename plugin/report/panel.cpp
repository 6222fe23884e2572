// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/panel.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace airlatch {
namespace {

constexpr double kTick = 4, kText = 8;
constexpr Colour kInk{0.13, 0.15, 0.18}, kGrid{0.87, 0.88, 0.9};

void colour(cairo_t* c, Colour k, double opacity = 1) {
  lazy::cairo_set_source_rgba(c, k.r, k.g, k.b, opacity);
}

std::vector<double> ticks(const Axis& axis) {
  std::vector<double> out;
  if (axis.logarithmic) {
    const auto first = static_cast<int>(std::floor(std::log10(axis.low)));
    const auto last = static_cast<int>(std::floor(std::log10(axis.high) + 1e-9));
    for (int decade = first; decade <= last; ++decade)
      if (std::pow(10, decade) >= axis.low * 0.999) out.push_back(std::pow(10, decade));
    return out;
  }
  const double span = axis.high - axis.low;
  double step = std::pow(10, std::floor(std::log10(span / 4)));
  for (const double factor : {5.0, 2.0})
    if (span / (step * factor) >= 4) {
      step *= factor;
      break;
    }
  const auto first = static_cast<std::int64_t>(std::ceil(axis.low / step - 1e-9));
  const auto last = static_cast<std::int64_t>(std::floor(axis.high / step + 1e-9));
  for (std::int64_t k = first; k <= last; ++k) out.push_back(static_cast<double>(k) * step);
  return out;
}

double part(const Axis& axis, double value) {
  if (axis.logarithmic) return std::log(value / axis.low) / std::log(axis.high / axis.low);
  return (value - axis.low) / (axis.high - axis.low);
}

}  // namespace

Panel::Panel(Canvas& canvas, double x, double y, double width, double height, Axis x_axis,
             Axis y_axis)
    : canvas_(canvas),
      x_(x),
      y_(y),
      width_(width),
      height_(height),
      x_axis_(std::move(x_axis)),
      y_axis_(std::move(y_axis)) {
  frame();
}

double Panel::x_of(double value) const { return x_ + width_ * part(x_axis_, value); }
double Panel::y_of(double value) const { return y_ + height_ * (1 - part(y_axis_, value)); }

void Panel::frame() {
  cairo_t* c = canvas_.cairo();
  lazy::cairo_set_line_width(c, 0.5);
  for (const double v : ticks(x_axis_)) {
    colour(c, kGrid);
    lazy::cairo_move_to(c, x_of(v), y_);
    lazy::cairo_line_to(c, x_of(v), y_ + height_);
    lazy::cairo_stroke(c);
    colour(c, kInk);
    if (x_axis_.labelled)
      canvas_.text(x_of(v), y_ + height_ + kTick + kText, fmt::format("{:g}", v), kText, 0.5);
  }
  for (const double v : ticks(y_axis_)) {
    colour(c, kGrid);
    lazy::cairo_move_to(c, x_, y_of(v));
    lazy::cairo_line_to(c, x_ + width_, y_of(v));
    lazy::cairo_stroke(c);
    colour(c, kInk);
    if (y_axis_.labelled)
      canvas_.text(x_ - kTick, y_of(v) + kText / 3, fmt::format("{:g}", v), kText, 1);
  }
  lazy::cairo_set_line_width(c, 0.8);
  lazy::cairo_rectangle(c, x_, y_, width_, height_);
  lazy::cairo_stroke(c);
  if (!x_axis_.label.empty())
    canvas_.text(x_ + width_ / 2, y_ + height_ + 2 * kTick + 2 * kText + 2, x_axis_.label,
                 kText + 1, 0.5);
  if (!y_axis_.label.empty()) canvas_.text(x_, y_ - kTick, y_axis_.label, kText + 1);
}

void Panel::line(const Points& points, Colour k, double width, bool dashed) {
  cairo_t* c = canvas_.cairo();
  lazy::cairo_save(c);
  lazy::cairo_rectangle(c, x_, y_, width_, height_);
  lazy::cairo_clip(c);
  colour(c, k);
  lazy::cairo_set_line_width(c, width);
  lazy::cairo_set_line_join(c, CAIRO_LINE_JOIN_ROUND);
  const double dash[] = {4, 3};
  lazy::cairo_set_dash(c, dash, dashed ? 2 : 0, 0);
  bool down = false;
  for (const auto& [x, y] : points) {
    if (!std::isfinite(x) || !std::isfinite(y)) {
      down = false;
      continue;
    }
    down ? lazy::cairo_line_to(c, x_of(x), y_of(y)) : lazy::cairo_move_to(c, x_of(x), y_of(y));
    down = true;
  }
  lazy::cairo_stroke(c);
  lazy::cairo_restore(c);
}

void Panel::marks(const Points& points, Colour k, int shape) {
  cairo_t* c = canvas_.cairo();
  colour(c, k);
  constexpr double r = 2.8;
  for (const auto& [vx, vy] : points) {
    const double x = x_of(vx), y = y_of(vy);
    lazy::cairo_new_path(c);
    switch (shape % 4) {
      case 0:
        lazy::cairo_arc(c, x, y, r, 0, 6.2832);
        break;
      case 1:
        lazy::cairo_rectangle(c, x - r, y - r, 2 * r, 2 * r);
        break;
      case 2:
        lazy::cairo_move_to(c, x, y - r * 1.2);
        lazy::cairo_line_to(c, x + r * 1.2, y + r);
        lazy::cairo_line_to(c, x - r * 1.2, y + r);
        break;
      default:
        lazy::cairo_move_to(c, x, y - r * 1.3);
        lazy::cairo_line_to(c, x + r * 1.3, y);
        lazy::cairo_line_to(c, x, y + r * 1.3);
        lazy::cairo_line_to(c, x - r * 1.3, y);
        break;
    }
    lazy::cairo_fill(c);
  }
}

void Panel::band(const Points& low, const Points& high, Colour k, double opacity) {
  cairo_t* c = canvas_.cairo();
  lazy::cairo_save(c);
  lazy::cairo_rectangle(c, x_, y_, width_, height_);
  lazy::cairo_clip(c);
  lazy::cairo_new_path(c);
  for (const auto& [x, y] : low) lazy::cairo_line_to(c, x_of(x), y_of(y));
  for (auto it = high.rbegin(); it != high.rend(); ++it)
    lazy::cairo_line_to(c, x_of(it->first), y_of(it->second));
  lazy::cairo_close_path(c);
  colour(c, k, opacity);
  lazy::cairo_fill(c);
  lazy::cairo_restore(c);
}

void Panel::vertical(double x, Colour k, bool dashed) {
  line({{x, y_axis_.low}, {x, y_axis_.high}}, k, 0.8, dashed);
}

void Panel::horizontal(double y, Colour k, bool dashed) {
  line({{x_axis_.low, y}, {x_axis_.high, y}}, k, 0.8, dashed);
}

}  // namespace airlatch
