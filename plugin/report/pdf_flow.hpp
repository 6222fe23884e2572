// SPDX-License-Identifier: GPL-3.0-or-later
// pdf_flow.hpp: pages that are filled from the top: what is drawn where, and when the next one begins.
#pragma once
#include <string>

#include "plugin/report/document.hpp"
#include "plugin/report/document_writers.hpp"
#include "plugin/report/pdf_picture.hpp"
#include "plugin/report/text_block.hpp"

namespace airlatch {

// What a piece of the page is, for those to whom it is read.
class Tag {
 public:
  Tag(const Canvas& canvas, const char* name, bool on)
      : canvas_(on ? &canvas : nullptr), name_(name) {
    if (canvas_) lazy::cairo_tag_begin(canvas_->cairo(), name_, nullptr);
  }
  ~Tag() {
    if (canvas_) lazy::cairo_tag_end(canvas_->cairo(), name_);
  }
  Tag(const Tag&) = delete;
  Tag& operator=(const Tag&) = delete;

 private:
  const Canvas* canvas_;
  const char* name_;
};

class PageFlow {
 public:
  // `pages`: how many there are; 0: not known yet.
  PageFlow(const Document& document, Paper paper, int pages);
  [[nodiscard]] int pages() const { return page_; }

 protected:
  static constexpr double kMargin = 43, kTop = 34, kFoot = 42;  // points
  [[nodiscard]] double bottom() const { return canvas_.height() - kFoot; }
  // While measuring nothing is drawn, and no page ends.
  [[nodiscard]] bool draws() const { return !measuring_; }

  void outline(const std::string& label);  // an entry that leads to here
  void new_page();
  void foot();
  // What is not to be split begins on the next page where this one has no room.
  void need(double height);
  void rule(double y, Colour colour, double width = 0.6) const;
  void box(double x, double y, double width, double height, Colour colour) const;
  [[nodiscard]] TextBlock block(const Words& words, const TextStyle& style, double width,
                                double highest = 0) const {
    return {canvas_.cairo(), words, style, width, highest};
  }
  void draw(const TextBlock& text, double x, double y, Colour colour = ink::kText) const;
  // Line by line, over as many pages as it takes.
  void flow(const TextBlock& text, double x, const char* tag, Colour colour);

  const Document& document_;
  Canvas canvas_;
  double width_;  // between the margins
  double y_ = kTop;
  bool measuring_ = false;

 private:
  void describe();
  int page_ = 1, pages_;
};

}  // namespace airlatch
