// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugin/report/plot.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "plugin/session/kinds.hpp"

namespace airlatch {
namespace {

constexpr Colour kColours[] = {{0.10, 0.36, 0.60}, {0.72, 0.33, 0.05}, {0.20, 0.48, 0.25}};
constexpr std::size_t kMostMarked = 400;  // more would hide the curves, and swell the page

constexpr Colour kMark{0.45, 0.45, 0.5}, kFit{0.75, 0.1, 0.25};

struct Group {
  const char* label;
  std::vector<Role> roles;
};
const std::vector<Group>& groups() {
  static const std::vector<Group> all = {
      {"V", {Role::SUPPLY_VOLTAGE, Role::FEED_A_VOLTAGE, Role::FEED_B_VOLTAGE}},
      {"A", {Role::MOTOR_CURRENT}},
      {"kPa", {Role::LINE_PRESSURE, Role::BRANCH_PRESSURE}},
      {"°C", {Role::AIR_TEMPERATURE}}};
  return all;
}

double value_of(const Event& event, const char* name) {
  const Measure* m = find_measure(event, name);
  return m ? m->value : 0;
}

// A panel and what is drawn in it.
struct Row {
  const Group* group = nullptr;
  std::vector<const PlottedChannel*> channels = {};
};

std::vector<Row> rows_of(const std::vector<PlottedChannel>& channels) {
  std::vector<Row> rows;
  for (const Group& group : groups()) {
    Row row{.group = &group};
    for (const PlottedChannel& channel : channels)
      if (std::find(group.roles.begin(), group.roles.end(), channel.role) != group.roles.end() &&
          !channel.envelope.bins().empty())
        row.channels.push_back(&channel);
    if (!row.channels.empty()) rows.push_back(row);
  }
  return rows;
}

// Zero is always included.
Axis value_axis(const Row& row) {
  double low = 0, high = 0;
  for (const PlottedChannel* channel : row.channels)
    for (const Envelope::Bin& bin : channel->envelope.bins()) {
      low = std::min(low, bin.least);
      high = std::max(high, bin.most);
    }
  const double margin = std::max(0.06 * (high - low), 0.1);
  return {low - margin, high + margin, "", false, true};
}

void draw_curve(Panel& panel, const Envelope& envelope, Colour colour) {
  Panel::Points lowest, highest;
  for (const Envelope::Bin& bin : envelope.bins()) {
    lowest.emplace_back(bin.time_s, bin.least);
    highest.emplace_back(bin.time_s, bin.most);
  }
  panel.band(lowest, highest, colour, 0.55);
  panel.line(lowest, colour, 0.6);
  panel.line(highest, colour, 0.6);
}

// The row's curves, their names from `left` on above the panel, whose top is at `top`.
void draw_channels(Canvas& canvas, Panel& panel, const Row& row, double left, double top) {
  double at = left;
  for (std::size_t c = 0; c < row.channels.size(); ++c) {
    const PlottedChannel& channel = *row.channels[c];
    const Colour k = kColours[c % 3];
    lazy::cairo_set_source_rgb(canvas.cairo(), k.r, k.g, k.b);
    canvas.text(at, top - 4, channel.name, 8);
    at += 8 + 5.2 * static_cast<double>(channel.name.substr(0, 24).size());
    draw_curve(panel, channel.envelope, k);
  }
}

// Names of events above the first panel, in two lanes, as far as there is room.
class EventNames {
 public:
  EventNames(Canvas& canvas, double top) : canvas_(canvas), top_(top) {}
  void put(double x, const char* name) {
    for (int lane = 0; lane < 2; ++lane) {
      if (x < free_from_[lane]) continue;
      lazy::cairo_set_source_rgb(canvas_.cairo(), kMark.r, kMark.g, kMark.b);
      canvas_.text(x, top_ + 9 + 9 * lane, name, 7.5);
      free_from_[lane] = x + 6 + 4.6 * static_cast<double>(std::string(name).size());
      return;
    }
  }

 private:
  Canvas& canvas_;
  double top_;
  double free_from_[2] = {-1e9, -1e9};
};

// The leak alone, from the window's start, with two standard uncertainties.
void draw_leak(Panel& panel, const Event& event) {
  const Measure *p = find_measure(event, "start_pressure"), *s = find_measure(event, "slope");
  if (!p || !s || p->value == 0) return;
  Panel::Points fit, under, over;
  for (int k = 0; k <= 60; ++k) {
    const double t = value_of(event, "duration") * k / 60;
    const double rate = -s->value / p->value;
    const double v = p->value * std::exp(-rate * t);
    const double u = 2 * std::hypot(p->u, s->u * t);
    fit.emplace_back(event.time_s + t, v);
    under.emplace_back(event.time_s + t, v - u);
    over.emplace_back(event.time_s + t, v + u);
  }
  panel.band(under, over, kFit, 0.25);
  panel.line(fit, kFit, 1.2, true);
}

// `names`: null where this row's marks go without.
void draw_events(Panel& panel, const Row& row, const std::vector<Event>& events,
                 EventNames* names) {
  if (events.size() > kMostMarked) return;
  const bool has_line = row.group->roles[0] == Role::LINE_PRESSURE;
  for (const Event& event : events) {
    if (const char* name = row_of(event.kind).mark) {
      panel.vertical(event.time_s, kMark);
      if (names) names->put(panel.x_of(event.time_s), name);
    }
    if (has_line && event.kind == Kind::LEAK_DECAY) draw_leak(panel, event);
  }
}

}  // namespace

void CapturePlot::draw(Canvas& canvas, double x, double y, double width, double height) const {
  const std::vector<Row> rows = rows_of(channels);
  if (rows.empty()) return;
  const double left = 40, foot = 34, head = 34, gap = 20;
  const double each = (height - head - foot - gap * static_cast<double>(rows.size() - 1)) /
                      static_cast<double>(rows.size());
  EventNames names(canvas, y);
  double top = y + head;
  for (const Row& row : rows) {
    const bool first = &row == &rows.front(), last = &row == &rows.back();
    Panel panel(canvas, x + left, top, width - left - 4, each,
                {0, std::max(duration_s, 1e-3), last ? "time, s" : "", false, last},
                value_axis(row));
    canvas.text(x, top + 8, row.group->label, 9, 0, true);
    draw_channels(canvas, panel, row, x + left, top);
    draw_events(panel, row, events, first ? &names : nullptr);
    top += each + gap;
  }
}

std::string CapturePlot::described() const {
  std::map<Kind, int> kinds;
  for (const Event& event : events) ++kinds[event.kind];
  std::string text = fmt::format("{:.4g} seconds of", duration_s);
  for (std::size_t c = 0; c < channels.size(); ++c)
    text += fmt::format("{} {}", c ? "," : "", channels[c].name);
  text += ". Marked:";
  for (const auto& [kind, n] : kinds)
    if (const char* name = row_of(kind).mark) text += fmt::format(" {} {},", n, name);
  text.back() = '.';
  return text;
}

}  // namespace airlatch
