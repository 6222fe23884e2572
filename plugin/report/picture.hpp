// SPDX-License-Identifier: GPL-3.0-or-later
// picture.hpp: a plot as what it shows, before it is drawn: panels one above the other over one axis.
//
// Out   drawn twice from this: on the page (html_picture: lines that stretch, text that does not) and
//       in the PDF (pdf_picture). All text, ticks and places of marks are settled here, so that both
//       show the same.
// How   curves are drawn through the least and the most of each of their bins: no peak is halved.
//       Inks differ in colour, lightness and line, so that no meaning depends on colour alone.
#pragma once
#include <string>
#include <utility>
#include <vector>

#include "plugin/report/envelope.hpp"

namespace airlatch {

enum class Ink {
  kBefore,  // broken
  kAfter,
  kFirst,
  kSecond,  // broken
  kThird,   // dotted
  kFit,     // broken
};

struct Curve {
  std::string name = {};  // in the legend
  Ink ink = Ink::kAfter;
  std::vector<Envelope::Bin> bins = {};
};

// What was lost between two levels, at one place of the axis.
struct Drop {
  double x_from = 0, x = 0;  // from where it fell, and where that is told
  double from = 0, to = 0;
  std::string text = {};
  double text_at = 0;  // a level where there is room beside the line
  Ink ink = Ink::kAfter;
};

struct Tick {
  double at = 0;
  std::string text = {};
};

struct Scale {
  double low = 0, high = 1;
  std::vector<Tick> ticks = {};
  // 0 to 1 along it.
  [[nodiscard]] double part(double value) const { return (value - low) / (high - low); }
};

struct PicturePanel {
  std::string label = {};  // "pressure, kPa"
  Scale y = {};
  std::vector<Curve> curves = {};
  std::vector<Drop> drops = {};
  double share = 1;  // of the height, beside the others'
};

struct PictureMark {
  double x = 0;
  std::string text = {};  // "3", or "3-5" where several are too near to each other
};

struct Picture {
  Scale x = {};
  std::string x_label = {};
  std::vector<PicturePanel> panels = {};
  std::vector<PictureMark> marks = {};
  double height = 160;   // of the plot, in points of the printed page
  std::string alt = {};  // what it shows, for those who do not see it
  [[nodiscard]] bool empty() const { return panels.empty(); }
};

// Ticks at 1, 2 or 5 times a power of ten, at most `most` of them, with the decimal mark.
Scale scale_of(double low, double high, int most, char decimal = '.');
// Of a panel: around its curves' extremes; zero is always on it.
Scale scale_of(const std::vector<Curve>& curves, int most, char decimal = '.');

// The stretch of `bins` between two times, as seen from `zero_s`, at most `most` bins.
std::vector<Envelope::Bin> stretch(const std::vector<Envelope::Bin>& bins, double from_s,
                                   double to_s, double zero_s, std::size_t most = 450);

// The points of a curve's line: the least and the most of each bin.
std::vector<std::pair<double, double>> line_of(const Curve& curve);

struct Numbered {
  double at = 0;
  int number = 0;
};
// Numbers at instants in their order, those too near to each other as one: "3-5".
std::vector<PictureMark> marks_of(const std::vector<Numbered>& instants, const Scale& x);

}  // namespace airlatch
