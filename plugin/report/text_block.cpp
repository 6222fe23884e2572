// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/text_block.hpp"

#include <string>

#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kLongestTyped = 400;  // bytes; report.json has all of it

const char* name_of(TextStyle::Family family) {
  switch (family) {
    case TextStyle::Family::kSans:
      return "DejaVu Sans";
    case TextStyle::Family::kSerif:
      return "DejaVu Serif";
    case TextStyle::Family::kMono:
      return "DejaVu Sans Mono";
  }
  return "DejaVu Sans";
}

bool is_ascii(const std::string& text) {
  for (const char c : text)
    if (static_cast<unsigned char>(c) >= 0x80) return false;
  return true;
}

// First strong isolate and its end (UAX 9): a user's own words turn nothing around them.
std::string isolated(const std::string& text) {
  return is_ascii(text) ? text : "\u2068" + text + "\u2069";
}

void set_font(PangoLayout* layout, const TextStyle& style) {
  PangoFontDescription* const font = lazy::pango_font_description_new();
  lazy::pango_font_description_set_family(font, name_of(style.family));
  lazy::pango_font_description_set_absolute_size(font, style.size * PANGO_SCALE);
  lazy::pango_font_description_set_weight(font,
                                          style.bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
  lazy::pango_layout_set_font_description(layout, font);
  lazy::pango_font_description_free(font);
  // Glyphs where the design has them, not on the pixels of a screen.
  lazy::pango_context_set_round_glyph_positions(lazy::pango_layout_get_context(layout), FALSE);
}

void set_words(PangoLayout* layout, const Words& words) {
  std::string text;
  PangoAttrList* const attributes = lazy::pango_attr_list_new();
  for (const Piece& piece : words.pieces) {
    const std::size_t from = text.size();
    text += piece.typed ? isolated(shown_text(piece.text, kLongestTyped)) : shown_lines(piece.text);
    if (!piece.strong) continue;
    PangoAttribute* const bold = lazy::pango_attr_weight_new(PANGO_WEIGHT_BOLD);
    bold->start_index = static_cast<guint>(from);
    bold->end_index = static_cast<guint>(text.size());
    lazy::pango_attr_list_insert(attributes, bold);
  }
  // A word broken at the line's end stands as it is: a hash has no hyphens.
  lazy::pango_attr_list_insert(attributes, lazy::pango_attr_insert_hyphens_new(FALSE));
  lazy::pango_layout_set_text(layout, text.data(), static_cast<int>(text.size()));
  lazy::pango_layout_set_attributes(layout, attributes);
  lazy::pango_attr_list_unref(attributes);
}

}  // namespace

TextBlock::TextBlock(cairo_t* cairo, const Words& words, const TextStyle& style, double width,
                     double highest)
    : cairo_(cairo), layout_(lazy::pango_cairo_create_layout(cairo), lazy::g_object_unref) {
  set_font(layout_.get(), style);
  set_words(layout_.get(), words);
  if (width > 0) {
    lazy::pango_layout_set_width(layout_.get(), static_cast<int>(width * PANGO_SCALE));
    lazy::pango_layout_set_wrap(layout_.get(), PANGO_WRAP_WORD_CHAR);
    lazy::pango_layout_set_alignment(layout_.get(),
                                     style.align > 0.5 ? PANGO_ALIGN_RIGHT : PANGO_ALIGN_LEFT);
  }
  if (highest > 0) {
    lazy::pango_layout_set_height(layout_.get(), static_cast<int>(highest * PANGO_SCALE));
    lazy::pango_layout_set_ellipsize(layout_.get(), PANGO_ELLIPSIZE_END);
  }
}

double TextBlock::width() const {
  int width = 0;
  lazy::pango_layout_get_size(layout_.get(), &width, nullptr);
  return static_cast<double>(width) / PANGO_SCALE;
}

double TextBlock::height() const {
  int height = 0;
  lazy::pango_layout_get_size(layout_.get(), nullptr, &height);
  return static_cast<double>(height) / PANGO_SCALE;
}

double TextBlock::baseline() const {
  return static_cast<double>(lazy::pango_layout_get_baseline(layout_.get())) / PANGO_SCALE;
}

void TextBlock::draw(double x, double y) const {
  lazy::cairo_move_to(cairo_, x, y);
  lazy::pango_cairo_show_layout(cairo_, layout_.get());
}

int TextBlock::lines() const { return lazy::pango_layout_get_line_count(layout_.get()); }

double TextBlock::line_height(int k) const {
  PangoRectangle box;
  lazy::pango_layout_line_get_extents(lazy::pango_layout_get_line_readonly(layout_.get(), k),
                                      nullptr, &box);
  return static_cast<double>(box.height) / PANGO_SCALE;
}

void TextBlock::draw_line(int k, double x, double y) const {
  PangoLayoutLine* const line = lazy::pango_layout_get_line_readonly(layout_.get(), k);
  PangoRectangle box;
  lazy::pango_layout_line_get_extents(line, nullptr, &box);
  lazy::cairo_move_to(cairo_, x, y - static_cast<double>(box.y) / PANGO_SCALE);
  lazy::pango_cairo_show_layout_line(cairo_, line);
}

}  // namespace airlatch
