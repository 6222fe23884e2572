// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/pdf_flow.hpp"

#include <fmt/format.h>

#include <utility>

#include "plugin/report/language.hpp"
#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {

std::pair<double, double> size_of(Paper paper) {
  return paper == Paper::kLetter ? std::pair(612.0, 792.0) : std::pair(595.28, 841.89);
}

}  // namespace

PageFlow::PageFlow(const Document& document, Paper paper, int pages)
    : document_(document),
      canvas_(Canvas::Kind::kPdf, size_of(paper).first, size_of(paper).second),
      width_(canvas_.width() - 2 * kMargin),
      pages_(pages) {
  describe();
}

void PageFlow::describe() {
  const auto set = [&](cairo_pdf_metadata_t what, const std::string& text) {
    if (!text.empty())
      lazy::cairo_pdf_surface_set_metadata(canvas_.surface(), what, shown_text(text).c_str());
  };
  set(CAIRO_PDF_METADATA_TITLE, document_.title);
  set(CAIRO_PDF_METADATA_AUTHOR, document_.author);
  set(CAIRO_PDF_METADATA_SUBJECT, document_.foot);
  set(CAIRO_PDF_METADATA_CREATOR, "airlatch");
}

void PageFlow::outline(const std::string& label) {
  const std::string where = fmt::format("page={} pos=[{} {}]", page_, kMargin, kTop);
  lazy::cairo_pdf_surface_add_outline(canvas_.surface(), CAIRO_PDF_OUTLINE_ROOT, label.c_str(),
                                      where.c_str(), CAIRO_PDF_OUTLINE_FLAG_OPEN);
}

void PageFlow::new_page() {
  if (measuring_) return;
  foot();
  canvas_.next_page();
  ++page_;
  y_ = kTop;
}

// Not tagged: it is no part of what the document says.
void PageFlow::foot() {
  const double y = canvas_.height() - kFoot + 12;
  const TextStyle style{.size = kSmall};
  const std::string number = Language().say(
      document_.page_of, {{"page", std::to_string(page_)}, {"pages", std::to_string(pages_)}});
  const TextBlock right(canvas_.cairo(), number, style);
  const TextBlock left(canvas_.cairo(), as_typed(document_.foot), style,
                       width_ - right.width() - 20, kSmall * 1.4);
  rule(y - 4, ink::kRule);
  canvas_.colour(ink::kSoft);
  left.draw(kMargin, y);
  right.draw(canvas_.width() - kMargin - right.width(), y);
}

void PageFlow::need(double height) {
  if (!measuring_ && y_ + height > bottom() && y_ > kTop) new_page();
}

void PageFlow::rule(double y, Colour colour, double width) const {
  if (measuring_) return;
  canvas_.colour(colour);
  lazy::cairo_set_line_width(canvas_.cairo(), width);
  lazy::cairo_set_dash(canvas_.cairo(), nullptr, 0, 0);
  lazy::cairo_move_to(canvas_.cairo(), kMargin, y);
  lazy::cairo_line_to(canvas_.cairo(), canvas_.width() - kMargin, y);
  lazy::cairo_stroke(canvas_.cairo());
}

void PageFlow::box(double x, double y, double width, double height, Colour colour) const {
  if (measuring_) return;
  canvas_.colour(colour);
  lazy::cairo_rectangle(canvas_.cairo(), x, y, width, height);
  lazy::cairo_fill(canvas_.cairo());
}

void PageFlow::draw(const TextBlock& text, double x, double y, Colour colour) const {
  if (measuring_) return;
  canvas_.colour(colour);
  text.draw(x, y);
}

void PageFlow::flow(const TextBlock& text, double x, const char* tag, Colour colour) {
  for (int k = 0; k < text.lines();) {
    need(text.line_height(k));
    const Tag on(canvas_, tag, !measuring_);
    do {
      const double height = text.line_height(k);
      if (!measuring_) {
        canvas_.colour(colour);
        text.draw_line(k, x, y_);
      }
      y_ += height;
      ++k;
    } while (k < text.lines() && (measuring_ || y_ + text.line_height(k) <= bottom()));
  }
}

}  // namespace airlatch
