#include "plugin/report/plot.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "decoders/context.hpp"

namespace airlatch {
namespace {

constexpr Colour kColours[] = {{0.10, 0.36, 0.60}, {0.72, 0.33, 0.05}, {0.20, 0.48, 0.25}};
constexpr std::size_t kMostMarked = 400;  // more would hide the curves, and swell the page

constexpr Colour kMark{0.45, 0.45, 0.5}, kFit{0.75, 0.1, 0.25};

struct Group {
  const char* label;
  std::vector<v1::Role> roles;
};
const std::vector<Group>& groups() {
  static const std::vector<Group> all = {
      {"V", {v1::SUPPLY_VOLTAGE, v1::FEED_A_VOLTAGE, v1::FEED_B_VOLTAGE}},
      {"A", {v1::MOTOR_CURRENT}},
      {"kPa", {v1::LINE_PRESSURE, v1::BRANCH_PRESSURE}},
      {"°C", {v1::AIR_TEMPERATURE}}};
  return all;
}

// The few events a reader looks for; the feeds are seen in the voltages.
const char* short_name(v1::Kind kind) {
  switch (kind) {
    case v1::MOTOR_START:
      return "start";
    case v1::STALL_CUTOFF:
      return "cut-off";
    case v1::MOTOR_STOP:
      return "stop";
    case v1::NO_RESPONSE:
      return "no response";
    case v1::RUN_ON:
      return "runs on";
    case v1::LOCKED_ROTOR:
      return "locked";
    case v1::DROPOUT:
      return "dropout";
    case v1::RESTART:
      return "restart";
    case v1::GAP:
      return "gap";
    case v1::CLIPPED:
      return "clipped";
    default:
      return nullptr;
  }
}

double value_of(const v1::Event& event, const char* name) {
  const v1::Measure* m = find_measure(event, name);
  return m ? m->value() : 0;
}

}  // namespace

void CapturePlot::draw(Canvas& canvas, double x, double y, double width, double height) const {
  std::vector<std::pair<const Group*, std::vector<const PlottedChannel*>>> rows;
  for (const Group& group : groups()) {
    std::vector<const PlottedChannel*> in;
    for (const PlottedChannel& channel : channels)
      if (std::find(group.roles.begin(), group.roles.end(), channel.role) != group.roles.end() &&
          !channel.envelope.bins().empty())
        in.push_back(&channel);
    if (!in.empty()) rows.emplace_back(&group, in);
  }
  if (rows.empty()) return;
  const double left = 40, foot = 34, head = 34, gap = 20;
  const double each = (height - head - foot - gap * static_cast<double>(rows.size() - 1)) /
                      static_cast<double>(rows.size());
  double top = y + head;
  for (std::size_t r = 0; r < rows.size(); ++r) {
    const auto& [group, in] = rows[r];
    double low = 0, high = 0;
    for (const PlottedChannel* channel : in)
      for (const Envelope::Bin& bin : channel->envelope.bins()) {
        low = std::min(low, bin.least);
        high = std::max(high, bin.most);
      }
    const double margin = std::max(0.06 * (high - low), 0.1);
    const bool last = r + 1 == rows.size();
    Panel panel(canvas, x + left, top, width - left - 4, each,
                {0, std::max(duration_s, 1e-3), last ? "time, s" : "", false, last},
                {low - margin, high + margin, "", false, true});
    // Names and unit above the panel.
    double at = x + left;
    canvas.text(x, top + 8, group->label, 9, 0, true);
    for (std::size_t c = 0; c < in.size(); ++c) {
      const Colour k = kColours[c % 3];
      lazy::cairo_set_source_rgb(canvas.cairo(), k.r, k.g, k.b);
      canvas.text(at, top - 4, in[c]->name, 8);
      at += 8 + 5.2 * static_cast<double>(in[c]->name.substr(0, 24).size());
      Panel::Points lowest, highest;
      for (const Envelope::Bin& bin : in[c]->envelope.bins()) {
        lowest.emplace_back(bin.time_s, bin.least);
        highest.emplace_back(bin.time_s, bin.most);
      }
      panel.band(lowest, highest, k, 0.55);
      panel.line(lowest, k, 0.6);
      panel.line(highest, k, 0.6);
    }
    double free_from[2] = {-1e9, -1e9};  // two lanes of names
    for (const v1::Event& event : events) {
      if (events.size() > kMostMarked) break;
      if (const char* name = short_name(event.kind())) {
        panel.vertical(event.time_s(), kMark);
        // In the first row with their names, as far as there is room.
        const double at_x = panel.x_of(event.time_s());
        for (int lane = 0; r == 0 && lane < 2; ++lane) {
          if (at_x < free_from[lane]) continue;
          lazy::cairo_set_source_rgb(canvas.cairo(), kMark.r, kMark.g, kMark.b);
          canvas.text(at_x, y + 9 + 9 * lane, name, 7.5);
          free_from[lane] = at_x + 6 + 4.6 * static_cast<double>(std::string(name).size());
          break;
        }
      }
      if (event.kind() != v1::LEAK_DECAY || group->roles[0] != v1::LINE_PRESSURE) continue;
      // The leak alone, from the window's start, with two standard uncertainties.
      const v1::Measure *p = find_measure(event, "start_pressure"),
                        *s = find_measure(event, "slope");
      if (!p || !s || p->value() == 0) continue;
      Panel::Points fit, under, over;
      for (int k = 0; k <= 60; ++k) {
        const double t = value_of(event, "duration") * k / 60;
        const double rate = -s->value() / p->value();
        const double v = p->value() * std::exp(-rate * t);
        const double u = 2 * std::hypot(p->u(), s->u() * t);
        fit.emplace_back(event.time_s() + t, v);
        under.emplace_back(event.time_s() + t, v - u);
        over.emplace_back(event.time_s() + t, v + u);
      }
      panel.band(under, over, kFit, 0.25);
      panel.line(fit, kFit, 1.2, true);
    }
    top += each + gap;
  }
}

std::string CapturePlot::described() const {
  std::map<v1::Kind, int> kinds;
  for (const v1::Event& event : events) ++kinds[event.kind()];
  std::string text = fmt::format("{:.4g} seconds of", duration_s);
  for (std::size_t c = 0; c < channels.size(); ++c)
    text += fmt::format("{} {}", c ? "," : "", channels[c].name);
  text += ". Marked:";
  for (const auto& [kind, n] : kinds)
    if (const char* name = short_name(kind)) text += fmt::format(" {} {},", n, name);
  text.back() = '.';
  return text;
}

}  // namespace airlatch
