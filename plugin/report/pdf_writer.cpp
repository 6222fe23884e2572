// SPDX-License-Identifier: GPL-3.0-or-later
// A document as printed pages: set twice, since each page says how many there are.
#include <fmt/format.h>

#include <algorithm>
#include <cstdlib>
#include <string_view>

#include "plugin/report/document_writers.hpp"
#include "plugin/report/pdf_flow.hpp"

namespace airlatch {
namespace {

constexpr double kBody = 9.5;
constexpr double kHeadingHeight = 25;
constexpr double kKeep = 70;            // a heading stays with what follows, at least so much
constexpr double kLowestPlot = 64;      // what a picture that gives way keeps
constexpr double kCell = 5, kLine = 2;  // around a table's cells
constexpr double kBarHeight = 12.5;

class PageSetter : public PageFlow {
 public:
  using PageFlow::PageFlow;

  std::string set() {
    put_sections();
    foot();
    return canvas_.finish();
  }

 private:
  void put_sections() {
    const Tag whole(canvas_, "Document", true);
    for (const Section& section : document_.sections) {
      if (&section != &document_.sections.front()) new_page();
      outline(section.label);
      give_way_ = section.one_page ? give_way(section) : 0;
      const Tag tag(canvas_, "Sect", true);
      put(section.blocks);
    }
  }

  // By how much the section's picture must be lower for all of it to stand on one page.
  double give_way(const Section& section) {
    const double from = y_;
    measuring_ = true;
    put(section.blocks);
    measuring_ = false;
    const double over = y_ - bottom();
    y_ = from;
    return std::max(0.0, over);
  }

  void put(const std::vector<Block>& blocks) {
    for (std::size_t k = 0; k < blocks.size(); ++k) {
      if (std::holds_alternative<Heading>(blocks[k])) need(begin_of(blocks, k));
      std::visit([&](const auto& one) { set(one); }, blocks[k]);
    }
  }

  // What must stand together from the k-th block on: headings, and the least of what they head.
  [[nodiscard]] double begin_of(const std::vector<Block>& blocks, std::size_t k) const {
    double height = 0;
    for (; k < blocks.size() && std::holds_alternative<Heading>(blocks[k]); ++k)
      height += kHeadingHeight;
    if (k == blocks.size()) return height;
    if (const auto* const figure = std::get_if<Figure>(&blocks[k]))
      return height + picture_height(canvas_, figure->picture, width_, figure->picture.height) +
             kKeep / 2;
    return height + kKeep;
  }

  void set(const Heading& heading) {
    constexpr double kSizes[] = {17, 12, 10.5};
    const auto level = static_cast<std::size_t>(std::clamp(heading.level, 1, 3) - 1);
    const TextStyle style{.size = kSizes[level], .bold = true, .family = TextStyle::Family::kSerif};
    const TextBlock text = block(heading.words, style, width_);
    y_ += y_ > kTop ? (level == 0 ? 0 : 7) : 0;
    const char* const tags[] = {"H1", "H2", "H3"};
    flow(text, kMargin, tags[level], ink::kText);
    y_ += level == 0 ? 4 : 2;
  }

  void set(const Paragraph& paragraph) {
    const bool soft = paragraph.look == Look::kSoft;
    const double size = soft ? kSmall : paragraph.look == Look::kLead ? 11 : kBody;
    flow(block(paragraph.words, {.size = size, .bold = paragraph.look == Look::kLead}, width_),
         kMargin, "P", soft ? ink::kSoft : ink::kText);
    y_ += 3;
  }

  void bullet_list(const std::vector<Words>& items, double x, double width, double size) {
    const Tag list(canvas_, "L", draws());
    for (const Words& item : items) {
      const TextBlock text = block(item, {.size = size}, width - 12);
      need(std::min(text.height(), 3 * size));
      if (draws()) {
        canvas_.colour(ink::kText);
        canvas_.text(x + 1, y_ + size, "•", size);
      }
      flow(text, x + 12, "LI", ink::kText);
      y_ += 1;
    }
  }
  void set(const Bullets& bullets) {
    bullet_list(bullets.items, kMargin, width_, kBody);
    y_ += 2;
  }

  // Two columns where there are several.
  void set(const Facts& facts) {
    const std::size_t columns = facts.rows.size() > 1 ? 2 : 1;
    const double each = width_ / static_cast<double>(columns), name = 76;
    for (std::size_t k = 0; k < facts.rows.size(); k += columns) {
      double height = 0;
      for (std::size_t c = 0; c < columns && k + c < facts.rows.size(); ++c)
        height = std::max(
            height, block(facts.rows[k + c].second, {.size = kBody}, each - name - 10).height());
      need(height + 3);
      for (std::size_t c = 0; c < columns && k + c < facts.rows.size(); ++c) {
        const Tag tag(canvas_, "P", draws());
        const double x = kMargin + each * static_cast<double>(c);
        draw(block(facts.rows[k + c].first, {.size = kSmall}, name), x, y_, ink::kSoft);
        draw(block(facts.rows[k + c].second, {.size = kBody}, each - name - 10), x + name, y_);
      }
      y_ += height + 3;
    }
    y_ += 3;
  }

  static Colour colour_of(Callout::Kind kind) {
    if (kind == Callout::Kind::kGood) return ink::kAfter;
    return kind == Callout::Kind::kBad ? ink::kBad : ink::kOpen;
  }

  void set(const Callout& callout) {
    const bool caution = callout.kind == Callout::Kind::kCaution;
    const double inside = width_ - 22, size = caution ? kSmall : kBody;
    const TextBlock title = block(strong(callout.title), {.size = caution ? kBody : 13}, inside);
    double height = title.height() + 12;
    for (const Words& line : callout.lines)
      height += block(line, {.size = size}, inside - (callout.bullets ? 12 : 0)).height() +
                (callout.bullets ? 1 : 2);
    need(height);
    // What is longer than a page has no frame.
    const bool framed = height < bottom() - kTop;
    if (framed) {
      box(kMargin, y_, width_, height, ink::kTint);
      box(kMargin, y_, 4, height, colour_of(callout.kind));
    }
    const double end = y_ + height;
    y_ += 5;
    flow(title, kMargin + 14, "P", ink::kText);
    y_ += 2;
    if (callout.bullets)
      bullet_list(callout.lines, kMargin + 14, inside, size);
    else
      for (const Words& line : callout.lines) {
        flow(block(line, {.size = size}, inside), kMargin + 14, "P", ink::kText);
        y_ += 2;
      }
    if (framed) y_ = end;
    y_ += 5;
  }

  struct Columns {
    std::vector<double> x = {}, width = {};
  };
  [[nodiscard]] Columns columns_of(const Table& table) const {
    double shares = 0, x = kMargin;
    for (const Table::Column& column : table.columns) shares += column.share;
    Columns out;
    for (const Table::Column& column : table.columns) {
      out.x.push_back(x);
      out.width.push_back(width_ * column.share / shares - (column.figures ? 2 : 1) * kCell);
      x += width_ * column.share / shares;
    }
    return out;
  }

  double row_height(const Table& table, const std::vector<Words>& cells, const Columns& columns,
                    bool bold) const {
    double height = 0;
    for (std::size_t c = 0; c < cells.size() && c < table.columns.size(); ++c)
      height = std::max(
          height, block(cells[c], {.size = kSmall, .bold = bold}, columns.width[c], highest_row())
                      .height());
    return height + 2 * kLine;
  }
  [[nodiscard]] double highest_row() const { return bottom() - kTop - 60; }

  void row(const Table& table, const std::vector<Words>& cells, const Columns& columns,
           double height, bool head) {
    const Tag tag(canvas_, "TR", draws());
    for (std::size_t c = 0; c < cells.size() && c < table.columns.size(); ++c) {
      const Tag cell(canvas_, head || c == 0 ? "TH" : "TD", draws());
      const TextStyle style{
          .size = kSmall, .bold = head, .align = table.columns[c].figures ? 1.0 : 0.0};
      draw(block(cells[c], style, columns.width[c], highest_row()), columns.x[c], y_ + kLine);
    }
    y_ += height;
    rule(y_, head ? ink::kText : ink::kRule, head ? 0.9 : 0.5);
  }

  void set(const Table& table) {
    const Columns columns = columns_of(table);
    std::vector<Words> heads;
    for (const Table::Column& column : table.columns) heads.emplace_back(column.head);
    const double head = row_height(table, heads, columns, true);
    const TextBlock caption = block(table.caption, {.size = kSmall}, width_);
    const double first = table.rows.empty() ? 0 : row_height(table, table.rows[0], columns, false);
    y_ += 3;
    need(caption.height() + head + first);
    flow(caption, kMargin, "Caption", ink::kSoft);
    const Tag tag(canvas_, "Table", draws());
    row(table, heads, columns, head, true);
    for (const std::vector<Words>& cells : table.rows) {
      const double height = row_height(table, cells, columns, false);
      if (draws() && y_ + height > bottom()) {
        new_page();
        row(table, heads, columns, head, true);
      }
      row(table, cells, columns, height, false);
    }
    y_ += 6;
  }

  void set(const Verbatim& verbatim) {
    set(Paragraph{verbatim.label, Look::kSoft});
    flow(block(verbatim.text, {.size = kSmall, .family = TextStyle::Family::kMono}, width_),
         kMargin, "P", ink::kText);
    y_ += 5;
  }

  void set(const Gauges& gauges) {
    for (const Gauge& gauge : gauges.rows) set(gauge);
    y_ += 2;
  }

  void set(const Gauge& gauge) {
    const double label = gauge.bars.size() > 2 ? 110 : 58, text = gauge.bars.size() > 2 ? 150 : 128;
    const TextBlock limit = block(gauge.limit, {.size = kSmall}, 0);
    const TextBlock name = block(gauge.name, {.size = kBody}, width_ - limit.width() - 40);
    need(name.height() +
         kBarHeight * static_cast<double>(std::min<std::size_t>(gauge.bars.size(), 12)) + 6);
    {
      const Tag tag(canvas_, "P", draws());
      draw(name, kMargin, y_);
      if (!gauge.limit.empty()) limit_key(limit);
    }
    y_ += name.height() + 1;
    const double bar_width = width_ - label - text - 12;
    for (const Gauge::Bar& bar : gauge.bars) {
      need(kBarHeight);
      const Tag tag(canvas_, "P", draws());
      draw(block(as_typed(bar.label), {.size = kSmall}, label - 4, kSmall * 1.3), kMargin, y_ + 1);
      if (draws())
        draw_bar(canvas_, gauge, bar, kMargin + label, y_ + 1, bar_width, kBarHeight - 2);
      draw(block(strong(bar.text), {.size = kSmall}, text), kMargin + label + bar_width + 8,
           y_ + 1);
      y_ += kBarHeight;
    }
    y_ += 4;
  }

  // The limit's words, and beside them how it is drawn.
  void limit_key(const TextBlock& words) const {
    const double x = canvas_.width() - kMargin - words.width();
    draw(words, x, y_, ink::kSoft);
    box(x - 22, y_ + 2, 16, 8, ink::kAllowed);
    box(x - 7, y_ + 2, 1.8, 8, ink::kText);
  }

  void set(const Figure& figure) {
    const double asked = figure.picture.height;
    const double plot = figure.gives_way ? std::max(kLowestPlot, asked - give_way_) : asked;
    const double height = picture_height(canvas_, figure.picture, width_, plot);
    const TextBlock caption = block(figure.caption, {.size = kSmall}, width_);
    y_ += 3;
    need(height + caption.height() + 3);
    {
      const Tag tag(canvas_, "Figure", draws());
      if (draws()) draw_picture(canvas_, figure.picture, kMargin, y_, width_, plot);
    }
    y_ += height + 2;
    flow(caption, kMargin, "Caption", ink::kSoft);
    y_ += 4;
  }

  double give_way_ = 0;  // of the picture on this section's page
};

}  // namespace

Paper paper_of_environment() {
  std::string_view locale;
  for (const char* name : {"LC_ALL", "LC_PAPER", "LANG"})
    if (const char* const text = std::getenv(name); text && locale.empty()) locale = text;
  const std::size_t at = locale.find('_');
  const std::string_view country = at == std::string_view::npos ? "" : locale.substr(at + 1, 2);
  constexpr std::string_view kLetter[] = {"US", "CA", "MX", "PR", "PH", "CL", "CO",
                                          "VE", "GT", "CR", "PA", "SV", "NI"};
  return std::find(std::begin(kLetter), std::end(kLetter), country) != std::end(kLetter)
             ? Paper::kLetter
             : Paper::kA4;
}

std::string pdf_pages(const Document& document, Paper paper) {
  PageSetter counted(document, paper, 0);
  (void)counted.set();
  return PageSetter(document, paper, counted.pages()).set();
}

}  // namespace airlatch
