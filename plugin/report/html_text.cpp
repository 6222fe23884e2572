// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/html_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kLongestTyped = 400;  // bytes; report.json has all of it
constexpr double kLeastBar = 4;
constexpr double kUnits = 1000;    // of a drawing, either way
constexpr double kPx = 96.0 / 72;  // a point

const char* class_of(Ink ink) {
  switch (ink) {
    case Ink::kBefore:
      return "before";
    case Ink::kAfter:
      return "after";
    case Ink::kFirst:
      return "first";
    case Ink::kSecond:
      return "second";
    case Ink::kThird:
      return "third";
    case Ink::kFit:
      return "fit";
  }
  return "after";
}

std::string path_of(const Curve& curve, const Scale& x, const Scale& y) {
  std::string out;
  bool down = false;
  for (const auto& [vx, vy] : line_of(curve)) {
    if (!std::isfinite(vy)) {
      down = false;
      continue;
    }
    out += fmt::format("{}{:.0f} {:.0f}", down ? "L" : "M", kUnits * x.part(vx),
                       kUnits * (1 - y.part(vy)));
    down = true;
  }
  return out;
}

std::string line(const char* css_class, double x1, double y1, double x2, double y2) {
  return fmt::format("<path class=\"{}\" d=\"M{:.1f} {:.1f}L{:.1f} {:.1f}\"/>", css_class, x1, y1,
                     x2, y2);
}

std::string text_at(const char* css_class, double left, double top, const std::string& text) {
  return fmt::format("<span class=\"{}\" style=\"left:{:.2f}%;top:{:.2f}%\">{}</span>", css_class,
                     100 * left, 100 * top, escaped(text));
}

// The level it fell from, what it fell by, and a line on to its words.
std::string drop_lines(const Drop& drop, const Scale& x, const Scale& y) {
  const double at = kUnits * x.part(drop.x), from = kUnits * (1 - y.part(drop.from)),
               to = kUnits * (1 - y.part(drop.to)), words = kUnits * (1 - y.part(drop.text_at));
  return line("level", kUnits * x.part(drop.x_from), from, at, from) +
         line("drop", at, from, at, to) + line("leader", at, to, at, words);
}

std::string drop_words(const Drop& drop, const Scale& x, const Scale& y) {
  const double at = x.part(drop.x);
  // No wider than the room on its side.
  return fmt::format(
      "<span class=\"note{}\" style=\"left:{:.2f}%;top:{:.2f}%;max-width:{:.0f}%\">{}</span>",
      at > 0.5 ? " left" : "", 100 * at, 100 * (1 - y.part(drop.text_at)),
      100 * std::max(at, 1 - at), escaped(drop.text));
}

std::string panel_html(const Picture& picture, const PicturePanel& panel, double height_px) {
  std::string lines, words;
  for (const Tick& tick : picture.x.ticks) {
    const double at = kUnits * picture.x.part(tick.at);
    lines += line("grid", at, 0, at, kUnits);
  }
  for (const Tick& tick : panel.y.ticks) {
    const double at = 1 - panel.y.part(tick.at);
    lines += line("grid", 0, kUnits * at, kUnits, kUnits * at);
    words += text_at("tick", 0, at, tick.text);
  }
  for (const PictureMark& mark : picture.marks) {
    const double at = kUnits * picture.x.part(mark.x);
    lines += line("mark", at, 0, at, kUnits);
  }
  for (const Curve& curve : panel.curves)
    lines += fmt::format("<path class=\"curve {}\" d=\"{}\"/>", class_of(curve.ink),
                         path_of(curve, picture.x, panel.y));
  for (const Drop& drop : panel.drops) {
    lines += drop_lines(drop, picture.x, panel.y);
    words += drop_words(drop, picture.x, panel.y);
  }
  return fmt::format(
      "<div class=\"name\">{}</div><div class=\"panel\" style=\"height:{:.0f}px\"><svg viewBox=\"0 "
      "0 1000 1000\" "
      "preserveAspectRatio=\"none\" aria-hidden=\"true\">{}</svg>{}</div>\n",
      escaped(panel.label), height_px, lines, words);
}

std::string legend(const Picture& picture) {
  std::vector<std::pair<std::string, Ink>> all;
  for (const PicturePanel& panel : picture.panels)
    for (const Curve& curve : panel.curves)
      if (std::find(all.begin(), all.end(), std::pair(curve.name, curve.ink)) == all.end())
        all.emplace_back(curve.name, curve.ink);
  std::string out = "<div class=\"legend\">";
  for (const auto& [name, ink] : all)
    out += fmt::format(
        "<span><svg width=\"36\" height=\"10\" aria-hidden=\"true\"><path class=\"curve {}\" "
        "d=\"M0 5L36 5\"/></svg> {}</span> ",
        class_of(ink), html_of(as_typed(name)));
  return out + "</div>";
}

}  // namespace

std::string escaped(const std::string& text) {
  std::string out;
  for (const char c : shown_lines(text)) {
    switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      case '\'':
        out += "&#39;";
        break;
      default:
        out += c;
    }
  }
  return out;
}

std::string html_of(const Words& words) {
  std::string out;
  for (const Piece& piece : words.pieces) {
    std::string text;
    if (piece.typed) {
      text = "<bdi>" + escaped(shown_text(piece.text, kLongestTyped)) + "</bdi>";
    } else {
      for (const char c : escaped(piece.text))
        text += c == '\n' ? std::string("<br>") : std::string(1, c);
    }
    out += piece.strong ? "<b>" + text + "</b>" : text;
  }
  return out;
}

std::string html_of(const Picture& picture) {
  double shares = 0;
  for (const PicturePanel& panel : picture.panels) shares += panel.share;
  std::string out =
      fmt::format("<div class=\"plot\" role=\"img\" aria-label=\"{}\">", escaped(picture.alt));
  if (!picture.marks.empty()) {
    out += "<div class=\"marks\">";
    for (const PictureMark& mark : picture.marks)
      out += text_at("number", picture.x.part(mark.x), 0, mark.text);
    out += "</div>";
  }
  for (const PicturePanel& panel : picture.panels)
    out += panel_html(picture, panel, kPx * picture.height * panel.share / shares);
  out += "<div class=\"times\">";
  for (const Tick& tick : picture.x.ticks)
    out += text_at("tick", picture.x.part(tick.at), 0, tick.text);
  return out + fmt::format("</div><div class=\"below\">{}</div>{}</div>", escaped(picture.x_label),
                           legend(picture));
}

std::string html_of(const Gauge& gauge, const Gauge::Bar& bar) {
  const auto x = [&](double value) {
    return kUnits * std::clamp((value - gauge.low) / (gauge.high - gauge.low), 0.0, 1.0);
  };
  const double zero = x(0), end = x(bar.value);
  std::string out =
      "<svg class=\"bar\" viewBox=\"0 0 1000 20\" preserveAspectRatio=\"none\" "
      "aria-hidden=\"true\">";
  const double from = x(gauge.min.value_or(0)), to = gauge.max ? x(*gauge.max) : kUnits;
  if (gauge.min || gauge.max)
    out +=
        fmt::format("<rect class=\"allowed\" x=\"{:.1f}\" y=\"0\" width=\"{:.1f}\" height=\"20\"/>",
                    from, to - from);
  out += fmt::format("<rect class=\"{}\" x=\"{:.1f}\" y=\"5\" width=\"{:.1f}\" height=\"10\"/>",
                     bar.past ? "was" : "is", std::min(zero, end),
                     std::max(std::abs(end - zero), kLeastBar));
  if (bar.u > 0) out += line("spread", x(bar.value - 2 * bar.u), 10, x(bar.value + 2 * bar.u), 10);
  for (const auto& limit : {gauge.min, gauge.max})
    if (limit) out += line("limit", x(*limit), 0, x(*limit), 20);
  return out + "</svg>";
}

}  // namespace airlatch
