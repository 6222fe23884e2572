// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/panel.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <new>

#include "plugin/system/input_error.hpp"
#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {

constexpr double kPngScale = 2;  // pixels a point
constexpr double kTick = 4, kText = 8;
constexpr std::size_t kLongestDrawn = 300;  // bytes of a text on one line
constexpr Colour kInk{0.13, 0.15, 0.18}, kGrid{0.87, 0.88, 0.9};

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
    colour(cairo(), {1, 1, 1});
    lazy::cairo_paint(cairo());
  }
}

void Canvas::text(double x, double y, const std::string& words, double size, double align,
                  bool bold) const {
  const std::string text = shown_text(words, kLongestDrawn);
  lazy::cairo_select_font_face(cairo(), "DejaVu Sans", CAIRO_FONT_SLANT_NORMAL,
                               bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
  lazy::cairo_set_font_size(cairo(), size);
  cairo_text_extents_t extents;
  lazy::cairo_text_extents(cairo(), text.c_str(), &extents);
  lazy::cairo_move_to(cairo(), x - align * extents.x_advance, y);
  lazy::cairo_show_text(cairo(), text.c_str());
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
