// SPDX-License-Identifier: GPL-3.0-or-later
// A document as one self-contained page: readable on a phone, printable, nothing fetched.
#include <fmt/format.h>

#include "plugin/report/document_writers.hpp"
#include "plugin/report/html_style.hpp"
#include "plugin/report/html_text.hpp"

namespace airlatch {
namespace {

const char* class_of(Look look) {
  if (look == Look::kLead) return " class=\"lead\"";
  return look == Look::kSoft ? " class=\"soft\"" : "";
}

const char* class_of(Callout::Kind kind) {
  switch (kind) {
    case Callout::Kind::kGood:
      return "good";
    case Callout::Kind::kBad:
      return "bad";
    case Callout::Kind::kOpen:
      return "open";
    case Callout::Kind::kCaution:
      return "caution";
  }
  return "open";
}

// A block's HTML, by its type.
struct BlockWriter {
  std::string operator()(const Heading& block) const {
    return fmt::format("<h{0}>{1}</h{0}>\n", block.level, html_of(block.words));
  }
  std::string operator()(const Paragraph& block) const {
    return fmt::format("<p{}>{}</p>\n", class_of(block.look), html_of(block.words));
  }
  std::string operator()(const Bullets& block) const {
    std::string out = "<ul>\n";
    for (const Words& item : block.items) out += "<li>" + html_of(item) + "</li>\n";
    return out + "</ul>\n";
  }
  std::string operator()(const Facts& block) const {
    std::string out = "<dl>\n";
    for (const auto& [name, value] : block.rows)
      out += fmt::format("<div><dt>{}</dt><dd>{}</dd></div>\n", escaped(name), html_of(value));
    return out + "</dl>\n";
  }
  std::string operator()(const Callout& block) const {
    std::string out = fmt::format("<div class=\"callout {}\">\n<strong>{}</strong>\n",
                                  class_of(block.kind), escaped(block.title));
    if (block.bullets) return out + (*this)(Bullets{block.lines}) + "</div>\n";
    for (const Words& line : block.lines) out += "<p>" + html_of(line) + "</p>\n";
    return out + "</div>\n";
  }
  std::string operator()(const Table& block) const {
    // Narrow screens show a row as a block: the roles say that it is a table all the same.
    std::string out = fmt::format(
        "<table class=\"stack\" role=\"table\">\n<caption>{}</caption>\n{}<thead "
        "role=\"rowgroup\"><tr role=\"row\">",
        escaped(block.caption), widths(block));
    for (const Table::Column& column : block.columns)
      out += fmt::format("<th scope=\"col\" role=\"columnheader\"{}>{}</th>",
                         column.figures ? " class=\"n\"" : "", escaped(column.head));
    out += "</tr></thead>\n<tbody role=\"rowgroup\">\n";
    for (const std::vector<Words>& row : block.rows) {
      out += "<tr role=\"row\">";
      for (std::size_t c = 0; c < row.size(); ++c) out += cell(block.columns[c], row[c], c == 0);
      out += "</tr>\n";
    }
    return out + "</tbody>\n</table>\n";
  }
  std::string operator()(const Verbatim& block) const {
    return fmt::format("<p class=\"soft\">{}</p>\n<pre>{}</pre>\n", escaped(block.label),
                       escaped(block.text));
  }
  std::string operator()(const Gauges& block) const {
    std::string out;
    for (const Gauge& gauge : block.rows) {
      out += fmt::format("<div class=\"gauge{}\"><div class=\"what\"><span>{}</span>",
                         gauge.bars.size() > 2 ? " wide" : "", escaped(gauge.name));
      if (!gauge.limit.empty())
        out += fmt::format("<span class=\"soft\"><span class=\"key\"></span> {}</span>",
                           escaped(gauge.limit));
      out += "</div>\n";
      for (const Gauge::Bar& bar : gauge.bars)
        out += fmt::format("<div class=\"row\"><span>{}</span>{}<b class=\"text\">{}</b></div>\n",
                           html_of(as_typed(bar.label)), html_of(gauge, bar), escaped(bar.text));
      out += "</div>\n";
    }
    return out;
  }
  std::string operator()(const Figure& block) const {
    return fmt::format("<figure{}>\n{}\n<figcaption>{}</figcaption>\n</figure>\n",
                       block.gives_way ? " class=\"low\"" : "", html_of(block.picture),
                       html_of(block.caption));
  }

 private:
  static std::string widths(const Table& table) {
    double all = 0;
    for (const Table::Column& column : table.columns) all += column.share;
    std::string out = "<colgroup>";
    for (const Table::Column& column : table.columns)
      out += fmt::format("<col style=\"width:{:.1f}%\">", 100 * column.share / all);
    return out + "</colgroup>\n";
  }
  static std::string cell(const Table::Column& column, const Words& words, bool heads) {
    return fmt::format("<{0}{1}{2} data-head=\"{3}\">{4}</{0}>", heads ? "th" : "td",
                       heads ? " scope=\"row\" role=\"rowheader\"" : " role=\"cell\"",
                       column.figures ? " class=\"n\"" : "", escaped(column.head), html_of(words));
  }
};

}  // namespace

std::string html_page(const Document& document) {
  std::string out = fmt::format(
      "<!DOCTYPE html>\n<html lang=\"{}\">\n<head>\n<meta charset=\"utf-8\">\n<meta "
      "name=\"viewport\" "
      "content=\"width=device-width, "
      "initial-scale=1\">\n<title>{}</title>\n<style>{}</style>\n</head>\n<body>\n<main>\n",
      document.language, escaped(document.title), kPageStyle);
  for (const Section& section : document.sections) {
    out += fmt::format("<section lang=\"{}\" aria-label=\"{}\">\n", section.language,
                       escaped(section.label));
    for (const Block& block : section.blocks) out += std::visit(BlockWriter{}, block);
    out += "</section>\n";
  }
  return out + "</main>\n</body>\n</html>\n";
}

}  // namespace airlatch
