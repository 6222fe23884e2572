// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/picture.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace airlatch {
namespace {

constexpr double kMargin = 0.06;  // of a panel's range, above and below its curves
// Of the axis, between the numbers of two marks: on a phone, too, none covers the other.
constexpr double kLeastApart = 0.08, kLeastApartRanges = 0.15;

double tick_step(double span, int most) {
  double step = std::pow(10, std::floor(std::log10(span / most)));
  for (const double factor : {1.0, 2.0, 5.0, 10.0})
    if (span / (step * factor) <= most) return step * factor;
  return step * 10;
}

std::string tick_text(double value, char decimal) {
  std::string text = fmt::format("{:g}", value);
  if (text[0] == '-') text.replace(0, 1, "\u2212");
  std::replace(text.begin(), text.end(), '.', decimal);
  return text;
}

void merge(Envelope::Bin& into, const Envelope::Bin& bin) {
  into.least = std::min(into.least, bin.least);
  into.most = std::max(into.most, bin.most);
}

}  // namespace

Scale scale_of(double low, double high, int most, char decimal) {
  Scale scale{.low = low, .high = high > low ? high : low + 1};
  const double step = tick_step(scale.high - scale.low, most);
  const auto first = static_cast<std::int64_t>(std::ceil(scale.low / step - 1e-9));
  const auto last = static_cast<std::int64_t>(std::floor(scale.high / step + 1e-9));
  for (std::int64_t k = first; k <= last; ++k) {
    const double at = static_cast<double>(k) * step;
    scale.ticks.push_back({at, tick_text(at, decimal)});
  }
  return scale;
}

Scale scale_of(const std::vector<Curve>& curves, int most, char decimal) {
  double low = 0, high = 0;
  for (const Curve& curve : curves)
    for (const Envelope::Bin& bin : curve.bins) {
      low = std::min(low, bin.least);
      high = std::max(high, bin.most);
    }
  const double margin = std::max(kMargin * (high - low), 1e-3);
  return scale_of(low - margin, high + margin, most, decimal);
}

std::vector<Envelope::Bin> stretch(const std::vector<Envelope::Bin>& bins, double from_s,
                                   double to_s, double zero_s, std::size_t most) {
  std::vector<Envelope::Bin> out;
  const double width_s = (to_s - from_s) / static_cast<double>(most);
  std::int64_t last = -1;
  for (const Envelope::Bin& bin : bins) {
    if (bin.time_s < from_s || bin.time_s > to_s) continue;
    const auto here = static_cast<std::int64_t>((bin.time_s - from_s) / width_s);
    if (here == last)
      merge(out.back(), bin);
    else
      out.push_back({bin.time_s - zero_s, bin.least, bin.most});
    last = here;
  }
  return out;
}

std::vector<std::pair<double, double>> line_of(const Curve& curve) {
  std::vector<std::pair<double, double>> out;
  for (const Envelope::Bin& bin : curve.bins) {
    // The nearer end first: the least ink.
    const double before = out.empty() ? bin.least : out.back().second;
    const bool up = std::abs(before - bin.least) <= std::abs(before - bin.most);
    out.emplace_back(bin.time_s, up ? bin.least : bin.most);
    if (bin.most > bin.least) out.emplace_back(bin.time_s, up ? bin.most : bin.least);
  }
  return out;
}

std::vector<PictureMark> marks_of(const std::vector<Numbered>& instants, const Scale& x) {
  std::vector<PictureMark> out;
  int first = 0;
  for (const auto& [at, number] : instants) {
    if (at < x.low || at > x.high) continue;
    const bool range = !out.empty() && out.back().text.size() > 2;
    const double least = range ? kLeastApartRanges : kLeastApart;
    if (!out.empty() && x.part(at) - x.part(out.back().x) < least) {
      out.back().text = fmt::format("{}\u2013{}", first, number);
      continue;
    }
    first = number;
    out.push_back({at, std::to_string(number)});
  }
  return out;
}

}  // namespace airlatch
