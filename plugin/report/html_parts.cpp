// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/html_parts.hpp"

#include <fmt/format.h>

#include "plugin/system/shown_text.hpp"

namespace airlatch {
namespace {

constexpr std::size_t kLongestTyped = 400;  // bytes; report.json has all of it

std::string base64(const std::string& bytes) {
  static constexpr char kAlphabet[] =
      "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string out;
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    unsigned int v = 0;
    for (std::size_t k = 0; k < 3; ++k)
      v = v << 8 | (i + k < bytes.size() ? static_cast<unsigned char>(bytes[i + k]) : 0U);
    for (std::size_t k = 0; k < 4; ++k)
      out += i + k <= bytes.size() ? kAlphabet[v >> (18 - 6 * k) & 63] : '=';
  }
  return out;
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

std::string typed(const std::string& text) {
  return "<bdi>" + escaped(shown_text(text, kLongestTyped)) + "</bdi>";
}

std::string row(const std::vector<std::string>& cells, const char* tag) {
  std::string out = "<tr>";
  for (const std::string& cell : cells)
    out += fmt::format("<{}{}>{}</{}>", tag, std::string(tag) == "th" ? " scope=\"col\"" : "", cell,
                       tag);
  return out + "</tr>\n";
}

std::string table(const char* label, const std::string& rows, const char* css_class) {
  return fmt::format(
      "<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"{}\">\n"
      "<table{}>\n{}</table>\n</div>\n",
      label, css_class, rows);
}

std::string figure(const std::string& svg, const std::string& alt, const std::string& caption) {
  return fmt::format(
      "<figure>\n<img alt=\"{}\" src=\"data:image/svg+xml;base64,{}\">\n"
      "<figcaption>{}</figcaption>\n</figure>\n",
      escaped(alt), base64(svg), caption);
}

}  // namespace airlatch
