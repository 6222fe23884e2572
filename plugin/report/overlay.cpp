// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/overlay.hpp"

#include <algorithm>
#include <optional>

#include "plugin/session/kinds.hpp"

namespace airlatch {
namespace {

constexpr Colour kBefore{0.72, 0.33, 0.05}, kAfter{0.10, 0.36, 0.60};
constexpr double kLead_s = 0.2;

struct Stretch {  // a run and what follows it, up to the next run
  double start_s = 0, length_s = 0;
};

std::optional<Stretch> first_run(const CapturePlot& plot, Direction direction) {
  std::optional<Stretch> found;
  for (const Event& event : plot.events) {
    if (event.kind != Kind::MOTOR_START) continue;
    if (found) {
      found->length_s = event.time_s - found->start_s - 2 * kLead_s;
      return found;
    }
    if (event.direction == direction) found = {event.time_s, plot.duration_s - event.time_s};
  }
  return found;
}

Panel::Points shifted(const CapturePlot& plot, Role role, const Stretch& run, double length_s) {
  Panel::Points points;
  for (const PlottedChannel& channel : plot.channels) {
    if (channel.role != role) continue;
    for (const Envelope::Bin& bin : channel.envelope.bins()) {
      const double t = bin.time_s - run.start_s;
      if (t >= -kLead_s && t <= length_s) points.emplace_back(t, 0.5 * (bin.least + bin.most));
    }
    break;
  }
  return points;
}

struct Pair {
  const char* title;
  Stretch before, after;
};

std::vector<Pair> pairs(const CapturePlot& before, const CapturePlot& after) {
  std::vector<Pair> out;
  for (const Direction direction : {Direction::PRESSURE, Direction::VACUUM, Direction::UNKNOWN}) {
    const auto a = first_run(before, direction), b = first_run(after, direction);
    if (a && b) out.push_back({direction_words(direction), *a, *b});
  }
  return out;
}

}  // namespace

bool can_overlay(const CapturePlot& before, const CapturePlot& after) {
  return !pairs(before, after).empty();
}

void draw_overlay(Canvas& canvas, const CapturePlot& before, const CapturePlot& after, double x,
                  double y, double width, double height) {
  const std::vector<Pair> all = pairs(before, after);
  const double left = 40, head = 26, foot = 30, gap = 22;
  const double each_w =
      (width - (left + 8) * static_cast<double>(all.size())) / static_cast<double>(all.size());
  const double each_h = (height - head - foot - gap) / 2;
  for (std::size_t c = 0; c < all.size(); ++c) {
    const Pair& pair = all[c];
    const double at = x + left + static_cast<double>(c) * (each_w + left + 8);
    const double length_s = std::max(pair.before.length_s, pair.after.length_s);
    lazy::cairo_set_source_rgb(canvas.cairo(), 0.11, 0.14, 0.16);
    canvas.text(at, y + 9, pair.title, 9, 0, true);
    lazy::cairo_set_source_rgb(canvas.cairo(), kBefore.r, kBefore.g, kBefore.b);
    canvas.text(at + each_w - 96, y + 9, "- - before", 8.5);
    lazy::cairo_set_source_rgb(canvas.cairo(), kAfter.r, kAfter.g, kAfter.b);
    canvas.text(at + each_w - 40, y + 9, "— after", 8.5);
    double top = y + head;
    for (const auto& [role, unit] :
         {std::pair(Role::MOTOR_CURRENT, "A"), std::pair(Role::LINE_PRESSURE, "kPa")}) {
      const Panel::Points was = shifted(before, role, pair.before, pair.before.length_s),
                          is = shifted(after, role, pair.after, pair.after.length_s);
      double low = 0, high = 0;
      for (const Panel::Points* points : {&was, &is})
        for (const auto& [t, v] : *points) {
          low = std::min(low, v);
          high = std::max(high, v);
        }
      const double margin = std::max(0.06 * (high - low), 0.1);
      const bool last = role == Role::LINE_PRESSURE;
      Panel panel(
          canvas, at, top, each_w, each_h,
          {-kLead_s, std::max(length_s, 0.5), last ? "s from the motor's start" : "", false, last},
          {low - margin, high + margin, "", false, true});
      lazy::cairo_set_source_rgb(canvas.cairo(), 0.11, 0.14, 0.16);
      canvas.text(at - left, top - 4, unit, 8.5, 0, true);
      panel.line(was, kBefore, 1.1, true);
      panel.line(is, kAfter, 1.1);
      top += each_h + gap;
    }
  }
}

}  // namespace airlatch
